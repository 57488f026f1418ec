"""Writes the networks of phones that tests/phones.rs hears by, into the folder that it lies in.

    python make.py        with onnx and numpy, as models/training/requirements.txt has them

They take sound and give rows as the trained network does (models/training/listener/export_head.py), but what they hear are
tones: phone 1 is 375 Hz, each next one 125 Hz higher, in a row of 384 samples. So a test can say a phrase to them, and no
weights are kept. `tones.onnx` is right. The others are each wrong in one way: `narrow.onnx` has one phone too few,
`unnormed.onnx` gives no probabilities, `renamed.onnx` calls its output otherwise, `deaf.onnx` its input.
"""

from pathlib import Path

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

RATE, ROW, OPSET = 16000, 384, 17
# A tone of amplitude 0.1 is 20 nats above another phone, and 12 above "nothing new".
GAIN, NOTHING = 20 / (0.1 * ROW / 2) ** 2, 8.0


def network(phones, normed, name, taken="sound"):
    nodes, constants = [], []

    def constant(value):
        constants.append(numpy_helper.from_array(np.asarray(value), f"c{len(constants)}"))
        return constants[-1].name

    def do(kind, *inputs, out=None, **settings):
        nodes.append(helper.make_node(kind, inputs, [out or f"n{len(nodes)}"], **settings))
        return nodes[-1].output[0]

    ints = lambda *values: constant(np.array(values, np.int64))
    floats = lambda values: constant(np.array(values, np.float32))
    tones = floats(125 * np.arange(3, 3 + phones)[:, None, None])
    angle = do("Mul", tones, floats(2 * np.pi / RATE * np.arange(ROW)[None, None]))
    sound = do("Unsqueeze", taken, ints(1))
    parts = [do("Conv", sound, do(kind, angle), strides=[ROW]) for kind in ("Sin", "Cos")]
    power = do("Add", *(do("Mul", part, part) for part in parts))
    heard = do("Mul", power, floats(GAIN))
    # As many rows of one height, whatever the sound.
    first = do("Slice", heard, ints(0), ints(1), ints(1))
    nothing = do("Add", do("Mul", first, floats(0)), floats(NOTHING))
    rows = do("Transpose", do("Concat", nothing, heard, axis=1), perm=[0, 2, 1])
    do("LogSoftmax", rows, axis=-1, out=name) if normed else do("Identity", rows, out=name)
    ends = [helper.make_tensor_value_info(taken, TensorProto.FLOAT, [1, "samples"]),
            helper.make_tensor_value_info(name, TensorProto.FLOAT, [1, "rows", 1 + phones])]
    graph = helper.make_graph(nodes, "tones", ends[:1], ends[1:], constants)
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", OPSET)], ir_version=8, producer_name="wrenchside")
    onnx.checker.check_model(model)
    return model


def main():
    for file, *kind in [("tones", 39, True, "phones"), ("narrow", 38, True, "phones"), ("unnormed", 39, False, "phones"),
                        ("renamed", 39, True, "letters"), ("deaf", 39, True, "phones", "speech")]:
        onnx.save(network(*kind), Path(__file__).parent / f"{file}.onnx")


if __name__ == "__main__":
    main()
