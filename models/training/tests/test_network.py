import tempfile
from pathlib import Path

import jax
import numpy as np
import pytest

from listener import kaldi, mean, network, train
from listener.phones import BASE, OUTPUTS, POSITIONED, transitions


def test_written_and_read_it_is_the_same(tmp_path):
    parameters, fixed = network.random(24, 8)
    network.write(tmp_path / "final.mdl", parameters, fixed)
    again, fixed_again = network.from_base(tmp_path / "final.mdl")
    jax.tree.map(np.testing.assert_array_equal, parameters, again)
    jax.tree.map(np.testing.assert_array_equal, fixed, fixed_again)
    ids = transitions()
    assert ids[0, 1] == (1, 2) and ids[0, len(POSITIONED)] == (2 * len(POSITIONED) - 1, 2 * len(POSITIONED))


def test_an_output_sees_its_context_and_no_more():
    parameters, fixed = network.random(24, 8)
    left, right = network.context()
    frames = np.random.default_rng(0).normal(0, 1, (1, left + 1 + right, 40)).astype(np.float32)
    out = lambda f: np.asarray(network.forward(parameters, fixed, f))
    assert out(frames).shape[1] == 1
    for at in (0, -1):
        changed = frames.copy()
        changed[0, at] += 5
        assert np.abs(out(changed) - out(frames)).max() > 0


def test_a_cut_file_is_told(tmp_path):
    (tmp_path / "x").write_bytes(b"\0B<Nnet3> \nx\n\n<NumComponents> \x04\x01\0\0\0<Wrong> ")
    try:
        kaldi.read_components(tmp_path / "x")
    except ValueError as error:
        assert "<ComponentName>" in str(error)
    else:
        raise AssertionError("accepted")


def test_grown_it_computes_the_same():
    parameters, fixed = network.random(24, 8)
    larger, fixed_larger = network.grown(parameters, fixed, 12)
    assert larger["9"]["lin"].shape == (12, 48) and larger["9"]["aff"].shape == (24, 24)
    left, right = network.context()
    frames = np.random.default_rng(0).normal(0, 1, (2, left + 9 + right, 40)).astype(np.float32)
    np.testing.assert_allclose(network.forward(larger, fixed_larger, frames), network.forward(parameters, fixed, frames), atol=1e-4)


def test_with_contexts_it_computes_the_same_for_every_phone_before(tmp_path):
    parameters, fixed = network.random(24, 8)
    larger = network.with_contexts(parameters)
    left, right = network.context()
    frames = np.random.default_rng(0).normal(0, 1, (2, left + 9 + right, 40)).astype(np.float32)
    plain = np.asarray(network.forward(parameters, fixed, frames))
    found = np.asarray(network.forward(larger, fixed, frames)).reshape(2, -1, len(BASE), OUTPUTS)
    np.testing.assert_allclose(found, np.broadcast_to(plain[:, :, None], found.shape), atol=1e-5)
    # Written, it is one layer of outputs.
    network.write(tmp_path / "final.mdl", larger, fixed)
    again, _ = network.from_base(tmp_path / "final.mdl")
    np.testing.assert_allclose(np.asarray(network.forward(again, fixed, frames)).reshape(found.shape), found, atol=1e-5)


def test_weights_of_half_precision_are_trained_on_in_single():
    # Adam's smallest number is zero in half precision, and the first update no number.
    parameters, fixed = network.random(24, 8)
    half = lambda tree: jax.tree.map(lambda a: a.astype(np.float16), tree)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "weights.npz"
        train.write_weights(path, half(parameters), half(fixed))
        again, fixed_again = train.read_weights(path)
    assert all(leaf.dtype == np.float32 for leaf in jax.tree.leaves((again, fixed_again)))
    jax.tree.map(lambda a, b: np.testing.assert_allclose(a, b, rtol=1e-3, atol=1e-5), parameters, again)
    jax.tree.map(lambda a, b: np.testing.assert_allclose(a, b, rtol=1e-3, atol=1e-5), fixed, fixed_again)


def test_the_mean_of_networks_is_between_them():
    one, fixed = network.random(32, 8, seed=1)
    other, _ = network.random(32, 8, seed=2)
    got, kept = mean.mean([(3.0, (one, fixed)), (1.0, (other, fixed))])
    assert np.allclose(got["7"]["lin"], 0.75 * one["7"]["lin"] + 0.25 * other["7"]["lin"]) and kept is fixed


def test_networks_of_other_sizes_and_origins_have_no_mean():
    one, fixed = network.random(32, 8)
    larger = network.random(32, 12)
    moved = {**fixed, "4": (fixed["4"][0] + 1, fixed["4"][1])}
    for other, why in ((larger, "size"), ((one, moved), "normalisations")):
        with pytest.raises(SystemExit, match=why):
            mean.mean([(0.5, (one, fixed)), (0.5, other)])
    with pytest.raises(SystemExit, match="negative"):
        mean.mean([(1.5, (one, fixed)), (-0.5, (one, fixed))])
    with pytest.raises(SystemExit, match="SHARE=FILE"):
        mean.read("weights.npz")
