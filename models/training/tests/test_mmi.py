"""The forward algorithms against all alignments written out."""

import itertools
import random

import jax
import jax.numpy as jnp
import numpy as np

from listener import mmi
from listener.phones import OUTPUTS

FRAMES = 5


def alignments(phones, frames):
    """Every way to spread the phones over the frames, each phone at least once."""
    for cuts in itertools.combinations(range(1, frames), len(phones) - 1):
        yield [b - a for a, b in zip((0, *cuts), (*cuts, frames))]


def score(x, phones, frames):
    """log of the sum over alignments; each step within or out of a phone costs a half."""
    total = -np.inf
    for lengths in alignments(phones, frames):
        at, log = 0, (frames - 1) * np.log(0.5)
        for phone, length in zip(phones, lengths):
            log += x[at, 2 * phone] + x[at + 1:at + length, 2 * phone + 1].sum()
            at += length
        total = np.logaddexp(total, log)
    return total


def outputs(frames=FRAMES):
    return np.random.default_rng(4).normal(0, 1, (frames, OUTPUTS)).astype(np.float32)


def test_numerator_with_optional_silences():
    x = outputs()
    string = [(0, True), (5, False), (9, False), (0, True)]
    paths = [[5, 9], [0, 5, 9], [5, 9, 0], [0, 5, 9, 0]]
    expected = np.logaddexp.reduce([score(x, path, FRAMES) for path in paths])
    found = mmi.numerator(jnp.asarray(x)[None], jnp.array([FRAMES]), mmi.batch_of([string], 6))
    assert abs(float(found[0]) - expected) < 1e-3


def test_denominator_with_bigram_and_trigram():
    x = outputs(3)
    strings = [[(5, False), (9, False)], [(9, False), (5, False), (7, False)]]
    for order in (2, 3):
        model = mmi.phone_model(strings, order, random.Random(0))
        expected = -np.inf
        for count in (1, 2, 3):
            for path in itertools.product(range(mmi.PHONES), repeat=count):
                chance, before, last = model["start"][path[0]], mmi.PHONES, path[0]
                for phone in path[1:]:
                    chance *= model["next"][last, phone] if order == 2 else model["next"][before, last, phone]
                    before, last = last, phone
                chance *= model["end"][last] if order == 2 else model["end"][before, last]
                expected = np.logaddexp(expected, np.log(chance) + score(x, path, 3)) if len(path) < 3 or chance > 1e-9 else expected
        found = float(mmi.denominator(jnp.asarray(x)[None], jnp.array([3]), model)[0])
        assert abs(found - expected) < 2e-2, order


def test_learning_makes_the_words_likelier():
    x = jnp.asarray(outputs(12))[None]
    string = [(0, True), (5, False), (9, False), (0, True)]
    model = mmi.phone_model([string] * 5, 3, random.Random(0))
    graph, lengths = mmi.batch_of([string], 6), jnp.array([12])
    loss = lambda x: (mmi.denominator(x, lengths, model) - mmi.numerator(x, lengths, graph)).sum()
    before = float(loss(x))
    for _ in range(20):
        x = x - 0.5 * jax.grad(loss)(x)
    assert float(loss(x)) < before - 5


def test_a_silent_recording_is_silence():
    assert mmi.phone_string("", {}, random.Random(0)) == [(0, False)]
