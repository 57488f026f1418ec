"""Writes what `train_head` made as one ONNX file: sound in, log probabilities of phones out.

    python -m listener.export_head FOLDER phones.onnx [--encoder encoder_model.ort]

FOLDER has head.npz and encoder.npz. Input `sound`: [1, samples] in -1 to 1. Output `phones`: [1, rows, 40]. Matrices are eight-bit
integers, quantised as they were before the training; what slides over time is in half precision and is widened when it is
loaded, because sliding in integers is slower.
"""

import argparse
from pathlib import Path

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

from . import encoder, head
from .train_head import unflat

OPSET = 17


class Graph:
    """Nodes and constants, named by what they are."""

    def __init__(self):
        self.nodes, self.constants, self.count = [], [], 0

    def new(self, kind):
        self.count += 1
        return f"{kind}_{self.count}"

    def do(self, kind, *inputs, domain="", **attributes):
        name = self.new(kind)
        self.nodes.append(helper.make_node(kind, list(inputs), [name], domain=domain, **attributes))
        return name

    def constant(self, value, kind=None):
        name = self.new("constant")
        self.constants.append(numpy_helper.from_array(np.asarray(value, kind or np.float32), name))
        return name

    def wide(self, value):
        """A constant kept in half precision."""
        return self.do("Cast", self.constant(value, np.float16), to=TensorProto.FLOAT)

    def matrix(self, x, value):
        """x times a matrix that is kept in eight bits."""
        low, high = min(float(value.min()), 0.0), max(float(value.max()), 0.0)
        scale = np.float32(max(high - low, 1e-9) / 255)
        zero = np.uint8(np.clip(round(-low / scale), 0, 255))
        whole = np.clip(np.round(value / scale) + zero, 0, 255).astype(np.uint8)
        row, row_scale, row_zero = (self.new(n) for n in ("row", "scale", "zero"))
        self.nodes.append(helper.make_node("DynamicQuantizeLinear", [x], [row, row_scale, row_zero]))
        product = self.do("MatMulInteger", row, self.constant(whole, np.uint8), row_zero, self.constant(zero, np.uint8))
        product = self.do("Cast", product, to=TensorProto.FLOAT)
        return self.do("Mul", product, self.do("Mul", row_scale, self.constant(scale)))

    def normal(self, x, weights):
        return self.do("LayerNormalization", x, self.constant(weights), axis=-1, epsilon=1e-5)

    def gelu(self, x):
        part = self.do("Erf", self.do("Mul", x, self.constant(np.sqrt(0.5))))
        return self.do("Mul", self.do("Mul", x, self.constant(0.5)), self.do("Add", part, self.constant(1.0)))

    def turned(self, x, cos, sin):
        """Of [1, rows, heads, width]: rotary positions of the first numbers of each head."""
        ints = lambda *values: self.constant(values, np.int64)
        part = lambda x, start, end, step=1: self.do("Slice", x, ints(start), ints(end), ints(3), ints(step))
        first, rest = part(x, 0, encoder.TURNED), part(x, encoder.TURNED, 1 << 30)
        even, odd = part(first, 0, encoder.TURNED, 2), part(first, 1, encoder.TURNED, 2)
        paired = [self.do("Unsqueeze", n, ints(-1)) for n in (self.do("Neg", odd), even)]
        other = self.do("Reshape", self.do("Concat", *paired, axis=-1), ints(0, 0, 0, encoder.TURNED))
        turned = self.do("Add", self.do("Mul", first, cos), self.do("Mul", other, sin))
        return self.do("Concat", turned, rest, axis=-1)


def graph_of(p, h):
    g = Graph()
    ints = lambda *values: g.constant(values, np.int64)
    x = g.do("Unsqueeze", "sound", ints(1))
    x = g.do("Tanh", g.do("Conv", x, g.wide(p["first"]), strides=[64]))
    # One group: over all channels and all time.
    flat = g.do("Reshape", x, ints(0, 1, -1))
    flat = g.do("InstanceNormalization", flat, g.constant([1.0]), g.constant([0.0]), epsilon=1e-5)
    x = g.do("Reshape", flat, g.do("Shape", x))
    x = g.do("Add", g.do("Mul", x, g.constant(p["gain"][:, None])), g.constant(p["shift"][:, None]))
    x = g.gelu(g.do("Conv", x, g.wide(p["second"]), g.constant(p["second_bias"]), strides=[3]))
    x = g.gelu(g.do("Conv", x, g.wide(p["third"]), g.constant(p["third_bias"]), strides=[2]))
    x = g.do("Transpose", x, perm=[0, 2, 1])
    rows = g.do("Gather", g.do("Shape", x), g.constant(1, np.int64), axis=0)
    places = g.do("Cast", g.do("Range", g.constant(0, np.int64), rows, g.constant(1, np.int64)), to=TensorProto.FLOAT)
    pace = np.repeat(10000.0 ** (-np.arange(0, encoder.TURNED, 2) / encoder.TURNED), 2)
    angle = g.do("Mul", g.do("Unsqueeze", places, ints(0, 2, 3)), g.constant(pace))
    cos, sin = g.do("Cos", angle), g.do("Sin", angle)
    apart = ints(0, 0, encoder.HEADS, encoder.WIDE // encoder.HEADS)
    for of in p["layers"]:
        y = g.normal(x, of["before"])
        query, key, value = (g.do("Reshape", g.matrix(y, of[name]), apart) for name in ("query", "key", "value"))
        query, key = g.turned(query, cos, sin), g.turned(key, cos, sin)
        query = g.do("Mul", query, g.constant(np.sqrt(encoder.HEADS / encoder.WIDE)))
        near = g.do("MatMul", g.do("Transpose", query, perm=[0, 2, 1, 3]), g.do("Transpose", key, perm=[0, 2, 3, 1]))
        taken = g.do("MatMul", g.do("Softmax", near, axis=-1), g.do("Transpose", value, perm=[0, 2, 1, 3]))
        taken = g.do("Reshape", g.do("Transpose", taken, perm=[0, 2, 1, 3]), ints(0, 0, encoder.WIDE))
        x = g.do("Add", x, g.matrix(taken, of["out"]))
        y = g.gelu(g.do("Add", g.matrix(g.normal(x, of["between"]), of["up"]), g.constant(of["up_bias"])))
        x = g.do("Add", x, g.do("Add", g.matrix(y, of["down"]), g.constant(of["down_bias"])))
    x = g.normal(x, p["last"])
    x = g.do("Add", g.matrix(x, h["in"]), g.constant(h["in_bias"]))
    for of in h["blocks"]:
        y = g.do("Transpose", g.normal(x, of["norm"]), perm=[0, 2, 1])
        y = g.do("Conv", y, g.wide(np.transpose(of["slide"], (2, 1, 0))), g.constant(of["slide_bias"]), pads=[head.WIDTH // 2] * 2)
        y = g.gelu(g.do("Transpose", y, perm=[0, 2, 1]))
        x = g.do("Add", x, g.do("Add", g.matrix(y, of["out"]), g.constant(of["out_bias"])))
    x = g.do("Add", g.do("MatMul", g.normal(x, h["norm"]), g.constant(h["phones"])), g.constant(h["phones_bias"]))
    g.nodes.append(helper.make_node("LogSoftmax", [x], ["phones"], axis=-1))
    sound = helper.make_tensor_value_info("sound", TensorProto.FLOAT, [1, "samples"])
    phones = helper.make_tensor_value_info("phones", TensorProto.FLOAT, [1, "rows", head.OUTPUTS])
    return helper.make_graph(g.nodes, "phones", [sound], [phones], g.constants)


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("folder", type=Path)
    ask.add_argument("out", type=Path)
    ask.add_argument("--encoder", type=Path, required=True, help="encoder_model.ort, for what the training left as it was")
    said = ask.parse_args()
    h = unflat(dict(np.load(said.folder / "head.npz")), head.random(0))
    p = encoder.weights(said.encoder)
    trained = said.folder / "encoder.npz"
    if trained.exists():
        p = unflat(dict(np.load(trained)), p)
    opsets = [helper.make_opsetid("", OPSET)]
    model = helper.make_model(graph_of(p, h), opset_imports=opsets, ir_version=8, producer_name="wrenchside")
    onnx.checker.check_model(model)
    onnx.save(model, said.out)
    print(f"{said.out}: {said.out.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
