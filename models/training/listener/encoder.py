"""The encoder of the second listener (moonshine tiny-en, MIT), computed with jax, so that what stands on it can be trained.

Its weights are read from the program's own file, `encoder_model.ort`, in which the matrices are eight-bit integers. Here they
are used as the numbers that those stand for; what is put into a matrix is not rounded, so rows differ a little (their
correlation is above 0.998). One row for each 384 samples of sound, 288 numbers wide.
"""

import sys
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
from jax import lax

LAYERS, HEADS, WIDE, TURNED = 6, 8, 288, 32
SHIFT = 384
# Element types of the file that its weights have.
TYPES = {1: np.float32, 2: np.uint8}
# How the file numbers its matrices: those of the first layer, and by how much those of the others are ahead of each other.
FIRST = {"query": 2093, "key": 2096, "value": 2103, "out": 2167, "up": 2168, "down": 2169}
AHEAD = {"query": 0, "key": 3, "value": 10, "out": 66, "up": 67, "down": 68}
SECOND, STEP = 2170, 69


def _constants(path):
    """name -> array, of all that the file has as constants."""
    import onnxruntime

    sys.path.insert(0, str(Path(onnxruntime.__file__).parent / "tools/ort_format_model"))
    from ort_flatbuffers_py.fbs.InferenceSession import InferenceSession

    graph = InferenceSession.GetRootAsInferenceSession(bytearray(Path(path).read_bytes()), 0).Model().Graph()
    found = {}
    for number in range(graph.InitializersLength()):
        tensor = graph.Initializers(number)
        if tensor.DataType() in TYPES:
            shape = [tensor.Dims(n) for n in range(tensor.DimsLength())]
            found[tensor.Name().decode()] = np.frombuffer(bytes(tensor.RawDataAsNumpy()), TYPES[tensor.DataType()]).reshape(shape)
    return found


def weights(path):
    """The weights of `encoder_model.ort` as a tree of float32 arrays."""
    of = _constants(path)

    def matrix(number):
        name = f"onnx::MatMul_{number}"
        return (of[f"{name}_quantized"].astype(np.float32) - np.float32(of[f"{name}_zero_point"])) * of[f"{name}_scale"]

    layers = []
    for layer in range(LAYERS):
        number = FIRST if layer == 0 else {name: SECOND + STEP * (layer - 1) + ahead for name, ahead in AHEAD.items()}
        layers.append({**{name: matrix(n) for name, n in number.items()},
                       "up_bias": of[f"layers.{layer}.mlp.fc1.bias"], "down_bias": of[f"layers.{layer}.mlp.fc2.bias"],
                       "before": of[f"layers.{layer}.input_layernorm.weight"],
                       "between": of[f"layers.{layer}.post_attention_layernorm.weight"]})
    return {"first": of["conv1.weight_add_tensor"], "second": of["conv2.weight_add_tensor"], "second_bias": of["conv2.bias"],
            "third": of["conv3.weight_add_tensor"], "third_bias": of["conv3.bias"], "gain": of["onnx::Mul_2080"].ravel(),
            "shift": of["onnx::Add_2081"].ravel(), "layers": layers, "last": of["layer_norm.weight"]}


def _slid(x, w, stride):
    """[batch, time, in] by [out, in, width]."""
    return lax.conv_general_dilated(x, jnp.transpose(w, (2, 1, 0)), (stride,), "VALID", dimension_numbers=("NWC", "WIO", "NWC"))


def normal(x, w, axes=(-1,)):
    mean = x.mean(axes, keepdims=True)
    return (x - mean) * lax.rsqrt(((x - mean) ** 2).mean(axes, keepdims=True) + 1e-5) * w


def _turned(x, cos, sin):
    """Rotary positions, of neighbouring numbers; the last few of a head stay as they are."""
    turned, rest = x[..., :TURNED], x[..., TURNED:]
    other = jnp.stack([-turned[..., 1::2], turned[..., 0::2]], -1).reshape(turned.shape)
    return jnp.concatenate([turned * cos + other * sin, rest], -1)


def rows_in(samples):
    """How many rows there are of so many samples."""
    return ((((samples - 127) // 64 + 1) - 7) // 3 + 1 - 3) // 2 + 1


def encode(p, sound):
    """[batch, samples] in -1 to 1 -> [batch, rows, 288]."""
    gelu = lambda x: jax.nn.gelu(x, approximate=False)
    x = jnp.tanh(_slid(sound[..., None], p["first"], 64))
    x = normal(x, p["gain"], (1, 2)) + p["shift"]
    x = gelu(_slid(x, p["second"], 3) + p["second_bias"])
    x = gelu(_slid(x, p["third"], 2) + p["third_bias"])
    many, rows, _ = x.shape
    angle = jnp.arange(rows)[:, None] * 10000.0 ** (-jnp.arange(0, TURNED, 2) / TURNED)
    cos, sin = (jnp.repeat(f(angle), 2, -1)[None, :, None] for f in (jnp.cos, jnp.sin))
    for of in p["layers"]:
        y = normal(x, of["before"])
        query, key, value = ((y @ of[name]).reshape(many, rows, HEADS, -1) for name in ("query", "key", "value"))
        near = jnp.einsum("bthd,bshd->bhts", _turned(query, cos, sin), _turned(key, cos, sin)) / np.sqrt(WIDE / HEADS)
        x = x + jnp.einsum("bhts,bshd->bthd", jax.nn.softmax(near, -1), value).reshape(many, rows, WIDE) @ of["out"]
        y = normal(x, of["between"])
        x = x + gelu(y @ of["up"] + of["up_bias"]) @ of["down"] + of["down_bias"]
    return normal(x, p["last"])
