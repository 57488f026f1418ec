"""Reads and writes the binary files of Kaldi that a vosk model is made of: transition model and nnet3 network.

Written from Kaldi's own `Read` and `Write` functions (hmm/transition-model.cc, nnet3/nnet-*.cc); what this project does
not need is not read. A file that is not as expected raises ValueError with the place.
"""

import io
import math
import struct

import numpy as np


class Reader:
    def __init__(self, data):
        self.data, self.at = data, 0

    def token(self):
        end = next((at for at in range(self.at, len(self.data)) if self.data[at] in b" \n"), None)
        if end is None:
            raise ValueError(f"byte {self.at}: the file ends within a token")
        found, self.at = self.data[self.at:end].decode("latin1"), end + 1
        return found

    def expect(self, token):
        start, found = self.at, self.token()
        if found != token:
            raise ValueError(f"byte {start}: found {found!r}, expected {token!r}")

    def number(self, kind):
        if self.data[self.at] != 4:
            raise ValueError(f"byte {self.at}: a number of 4 bytes expected")
        value = struct.unpack_from(kind, self.data, self.at + 1)[0]
        self.at += 5
        return value

    def int(self):
        return self.number("<i")

    def float(self):
        return self.number("<f")

    def ints(self):
        count = self.number("<i")
        found = np.frombuffer(self.data, "<i4", count, self.at).copy()
        self.at += 4 * count
        return found

    def array(self):
        """A vector or a matrix."""
        kind = self.token()
        if kind not in ("FV", "FM"):
            raise ValueError(f"byte {self.at}: {kind!r}; only FV and FM are read")
        shape = (self.int(),) if kind == "FV" else (self.int(), self.int())
        count = math.prod(shape)
        found = np.frombuffer(self.data, "<f4", count, self.at).reshape(shape).copy()
        self.at += 4 * count
        return found


def read_components(path):
    """The components of a network that have arrays: {name: {token: array}}."""
    data = open(path, "rb").read()
    read = Reader(data)
    read.at = data.index(b"<Nnet3>")
    read.expect("<Nnet3>")
    read.at = data.index(b"\n\n", read.at) + 2
    read.expect("<NumComponents>")
    components = {}
    for _ in range(read.int()):
        read.expect("<ComponentName>")
        name, kind = read.token(), read.token()
        components[name] = _arrays(read, "</" + kind[1:])
    return components


def _arrays(read, end):
    found, last = {}, None
    while True:
        byte = read.data[read.at:read.at + 1]
        if byte == b"<":
            last = read.token()
            if last == end:
                return found
        elif read.data[read.at:read.at + 3] in (b"FV ", b"FM "):
            found[last] = read.array()
        elif byte in (b"T", b"F", b" ", b"\n"):
            read.at += 1
        elif byte == b"\x04":
            if last == "<TimeOffsets>":
                read.ints()
            else:
                read.at += 5
        elif byte == b"\x08":
            read.at += 9
        else:
            raise ValueError(f"byte {read.at}: not understood after {last}")


class Writer:
    def __init__(self):
        self.out = io.BytesIO()

    def raw(self, data):
        self.out.write(data)

    def token(self, *tokens):
        for token in tokens:
            self.raw(token.encode() + b" ")

    def int(self, *values):
        for value in values:
            self.raw(b"\x04" + struct.pack("<i", value))

    def float(self, *values):
        for value in values:
            self.raw(b"\x04" + struct.pack("<f", value))

    def bool(self, value):
        self.raw(b"T" if value else b"F")

    def ints(self, values):
        values = np.asarray(values, "<i4")
        self.raw(b"\x04" + struct.pack("<i", len(values)) + values.tobytes())

    def vector(self, values):
        values = np.asarray(values, "<f4").ravel()
        self.token("FV")
        self.int(len(values))
        self.raw(values.tobytes())

    def matrix(self, values):
        values = np.ascontiguousarray(values, "<f4")
        self.token("FM")
        self.int(*values.shape)
        self.raw(values.tobytes())


def write_transitions(w, tuples):
    """The chain topology for the phones of `tuples` (phone, state, first output, loop's output): a first frame, then a loop."""
    phones = sorted({one[0] for one in tuples})
    w.token("<TransitionModel>", "<Topology>")
    w.ints(phones)
    w.ints([-1] + [0] * len(phones))
    w.int(-1, 1, 2)  # not in the old style; one entry, of two states
    w.int(0, 1, 2, 0)
    w.float(0.5)
    w.int(1)
    w.float(0.5)
    w.int(-1, -1, 0)  # the end: no output, no way on
    w.token("</Topology>")
    w.token("<Tuples>")
    w.int(len(tuples))
    for one in tuples:
        w.int(*one)
    w.token("</Tuples>", "<LogProbs>")
    w.vector([0] + [math.log(0.5)] * (2 * len(tuples)))
    w.token("</LogProbs>", "</TransitionModel>")


def tdnn(w, offsets, linear, bias):
    w.token("<TdnnComponent>", "<MaxChange>")
    w.float(0.75)
    w.token("<LearningRate>")
    w.float(1e-4)
    w.token("<TimeOffsets>")
    w.ints(offsets)
    w.token("<LinearParams>")
    w.matrix(linear)
    w.token("<BiasParams>")
    w.vector([] if bias is None else bias)
    w.token("<OrthonormalConstraint>")
    w.float(0)
    w.token("<UseNaturalGradient>")
    w.bool(True)
    w.token("<NumSamplesHistory>")
    w.float(2000)
    w.token("<AlphaInOut>")
    w.float(4, 4)
    w.token("<RankInOut>")
    w.int(20, 80)
    w.token("</TdnnComponent>")


def affine(w, linear, bias):
    w.token("<FixedAffineComponent>", "<LinearParams>")
    w.matrix(linear)
    w.token("<BiasParams>")
    w.vector(bias)
    w.token("</FixedAffineComponent>")


def relu(w, dim):
    w.token("<RectifiedLinearComponent>", "<Dim>")
    w.int(dim)
    w.token("<ValueAvg>")
    w.vector([])
    w.token("<DerivAvg>")
    w.vector([])
    w.token("<Count>")
    w.float(0)
    w.token("<OderivRms>")
    w.vector([])
    for token in ("<OderivCount>", "<NumDimsSelfRepaired>", "<NumDimsProcessed>"):
        w.token(token)
        w.float(0)
    w.token("</RectifiedLinearComponent>")


def batch_norm(w, mean, var, epsilon):
    w.token("<BatchNormComponent>", "<Dim>")
    w.int(len(mean))
    w.token("<BlockDim>")
    w.int(len(mean))
    w.token("<Epsilon>")
    w.float(epsilon)
    w.token("<TargetRms>")
    w.float(1)
    w.token("<TestMode>")
    w.bool(True)
    w.token("<Count>")
    w.float(10000)
    w.token("<StatsMean>")
    w.vector(mean)
    w.token("<StatsVar>")
    w.vector(var)
    w.token("</BatchNormComponent>")


def pass_on(w, dim):
    w.token("<NoOpComponent>", "<Dim>")
    w.int(dim)
    w.token("<BackpropScale>")
    w.float(1)
    w.token("</NoOpComponent>")


def write_model(path, tuples, config, components, left, right):
    """`config`: lines of the network's description; `components`: (name, function of the writer)."""
    w = Writer()
    w.raw(b"\0B")
    write_transitions(w, tuples)
    w.token("<Nnet3>")
    w.raw(b"\n" + "\n".join(config).encode() + b"\n\n")
    w.token("<NumComponents>")
    w.int(len(components))
    for name, write in components:
        w.token("<ComponentName>", name)
        write(w)
    w.token("</Nnet3>", "<LeftContext>")
    w.int(left)
    w.token("<RightContext>")
    w.int(right)
    w.token("<Priors>")
    w.vector([])
    with open(path, "wb") as file:
        file.write(w.out.getvalue())
