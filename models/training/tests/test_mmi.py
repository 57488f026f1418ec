"""The forward algorithms against all alignments written out."""

import itertools
import random

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from listener import mmi
from listener.phones import BASE, OUTPUTS, SIL

FRAMES = 5


def alignments(phones, frames):
    """Every way to spread the phones over the frames, each phone at least once."""
    for cuts in itertools.combinations(range(1, frames), len(phones) - 1):
        yield [b - a for a, b in zip((0, *cuts), (*cuts, frames))]


def score(x, phones, frames):
    """log of the sum over alignments; each step within or out of a phone costs a half."""
    total = -np.inf
    contexts = x.shape[1] // OUTPUTS
    befores = [SIL, *phones] if contexts > 1 else [0] * len(phones)
    for lengths in alignments(phones, frames):
        at, log = 0, (frames - 1) * np.log(0.5)
        for before, phone, length in zip(befores, phones, lengths):
            of = OUTPUTS * before + 2 * phone
            log += x[at, of] + x[at + 1:at + length, of + 1].sum()
            at += length
        total = np.logaddexp(total, log)
    return total


def outputs(frames=FRAMES, contexts=1):
    return np.random.default_rng(4).normal(0, 1, (frames, contexts * OUTPUTS)).astype(np.float32)


@pytest.mark.parametrize("contexts", [1, len(BASE)])
def test_numerator_with_optional_silences(contexts):
    x = outputs(contexts=contexts)
    # The second word is of one phone, so a silence after it may follow two states.
    string = [(0, True), (5, False), (9, False), (0, True), (7, False), (0, True)]
    paths = [[*before, 5, 9, *between, 7, *after] for before in ([], [0]) for between in ([], [0]) for after in ([], [0])]
    expected = np.logaddexp.reduce([score(x, path, FRAMES) for path in paths])
    graph = mmi.batch_of([string], mmi.most_states(2, 3, contexts), contexts)
    found = mmi.numerator(jnp.asarray(x)[None], jnp.array([FRAMES]), graph)
    assert abs(float(found[0]) - expected) < 1e-3


def test_numerator_with_words_of_one_phone():
    x = outputs(8, len(BASE))
    string = [(0, True), (5, False), (0, True), (7, False), (0, True), (5, False), (0, True)]
    paths = []
    for silences in itertools.product(([], [0]), repeat=4):
        paths.append([*silences[0], 5, *silences[1], 7, *silences[2], 5, *silences[3]])
    expected = np.logaddexp.reduce([score(x, path, 8) for path in paths])
    graph = mmi.batch_of([string], mmi.most_states(3, 3, len(BASE)), len(BASE))
    assert abs(float(mmi.numerator(jnp.asarray(x)[None], jnp.array([8]), graph)[0]) - expected) < 1e-3


@pytest.mark.parametrize("order, contexts", [(2, 1), (3, 1), (3, len(BASE))])
def test_denominator_with_bigram_and_trigram(order, contexts):
    x = outputs(3, contexts)
    strings = [[(5, False), (9, False)], [(9, False), (5, False), (7, False)]]
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
    assert abs(found - expected) < 2e-2


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
