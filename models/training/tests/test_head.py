"""The phones read off the second listener's encoder: what is computed here is what the program computes."""

import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import onnxruntime
import pytest

from listener import encoder, head, reels
from listener.train_head import distance, flat_of, unflat

TRAINING = Path(__file__).parents[1]
CACHE = Path(os.environ.get("WRENCHSIDE_CACHE") or Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "wrenchside")
ENCODER = CACHE / "judge/moonshine-tiny-en/encoder_model.ort"


@pytest.fixture(scope="module")
def sound():
    """A second of a voice that nothing here was trained on would be better, but the numbers are the same for any sound."""
    chance = np.random.default_rng(1)
    t = np.arange(19200) / reels.RATE
    tone = sum(np.sin(2 * np.pi * 140 * n * t) / n for n in range(1, 12)) * (np.sin(2 * np.pi * 3 * t) > 0)
    return (0.1 * tone + 0.003 * chance.normal(size=len(t))).astype(np.float32)


@pytest.fixture(scope="module")
def weights():
    assert ENCODER.exists(), f"{ENCODER} is missing: run scripts/setup"
    return encoder.weights(ENCODER)


def test_the_encoder_is_that_of_the_program(sound, weights):
    session = onnxruntime.InferenceSession(ENCODER)
    [theirs] = session.run(None, {"input_values": sound[None], "attention_mask": np.ones((1, len(sound)), np.int64)})
    ours = np.asarray(encoder.encode(weights, sound[None]))
    assert ours.shape == theirs.shape == (1, encoder.rows_in(len(sound)), encoder.WIDE)
    assert np.corrcoef(ours.ravel(), theirs.ravel())[0, 1] > 0.99


def test_what_is_written_as_onnx_computes_the_same(sound, weights, tmp_path):
    from listener.export_head import graph_of

    import onnx
    from onnx import helper

    random = head.random(3)
    for number, block in enumerate(random["blocks"]):
        block["slide_bias"] += 0.1 * number
    model = helper.make_model(graph_of(weights, random), opset_imports=[helper.make_opsetid("", 17)], ir_version=8)
    onnx.checker.check_model(model)
    session = onnxruntime.InferenceSession(model.SerializeToString())
    [theirs] = session.run(None, {"sound": sound[None]})
    ours = np.asarray(head.forward(random, encoder.encode(weights, sound[None])))
    # Eight-bit rows are rounded, so not to the last place.
    assert ours.shape == theirs.shape and np.corrcoef(ours.ravel(), theirs.ravel())[0, 1] > 0.99
    assert np.allclose(np.exp(theirs).sum(-1), 1, atol=1e-4)


def test_weights_come_back_from_a_file(tmp_path):
    one, other = head.random(1), head.random(2)
    np.savez(tmp_path / "head.npz", **flat_of(one))
    back = flat_of(unflat(dict(np.load(tmp_path / "head.npz")), other))
    assert all((back[name] == value).all() for name, value in flat_of(one).items())


def test_distances_count_what_is_wrong():
    assert [distance([1, 2, 3], heard) for heard in ([1, 2, 3], [1, 3], [1, 2, 2, 3], [], [4, 5, 6])] == [0, 1, 1, 3, 3]


def test_a_few_batches_teach_something(tmp_path):
    """On the encoder as it is; a training that learns nothing stays where it began."""
    def run(module, *arguments):
        done = subprocess.run([sys.executable, "-m", f"listener.{module}", *map(str, arguments)], cwd=TRAINING, text=True,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        print(done.stdout)
        assert done.returncode == 0, f"listener.{module} failed"
        return done.stdout

    lexicon, plan = TRAINING.parent / "listener-en" / "lexicon.txt", tmp_path / "plan.jsonl"
    run("speak", "plan", "--program", "espeak-ng", "--count", 40, "--seed", 1, plan)
    run("speak", "say", plan, tmp_path / "reels")
    out = run("train_head", "--reels", tmp_path / "reels", "--lexicon", lexicon, "--encoder", ENCODER, "--noise", 1, "--batch", 8,
              "--longest", 1.5, "--steps", 30, "--report", 10, "--rate", 0.003, "--average", 0.9, tmp_path / "out")
    losses = [float(line.split("\t")[2]) for line in out.splitlines() if re.match(r"\d+\t", line)]
    assert len(losses) == 3 and losses[-1] < 0.8 * losses[0], losses
    assert (tmp_path / "out/head.npz").exists()
