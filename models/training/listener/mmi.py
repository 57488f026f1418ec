"""Lattice-free maximum mutual information: how much likelier the words said make the sound than any phones would.

For an utterance, log P(sound | its words) - log P(sound | phone language model), both summed over all alignments (the
forward algorithm), with the outputs of the network as log-likelihoods. After Povey et al., "Purely sequence-trained
neural networks for ASR based on lattice-free MMI", Interspeech 2016, and Hadian et al., "End-to-end speech recognition
using lattice-free MMI", Interspeech 2018 (no alignments needed; phones without context, or each with the one before it).

Each phone has a first frame and, after it, a loop; both ways on have probability 0.5, as in the transition model.
"""

import functools

import jax
import jax.numpy as jnp
import numpy as np

from .phones import BASE, NUMBER, SIL, SPN, contexts_of

NEVER = -1e10
HALF = float(np.log(0.5))
PHONES = len(BASE)
EXACT = jax.lax.Precision.HIGHEST
# A state may follow one of the four before it: two of a word of one phone, a silence, and the phone after the silence.
BACK = 4


def phone_string(text, lexicon, chance, unknown=()):
    """[(phone, may be left out)]: the words' phones with optional silence around and between. Words in `unknown` are SPN."""
    string = [(SIL, True)]
    for word in text.split():
        if word in unknown:
            string.append((SPN, False))
        else:
            string += [(NUMBER[p], False) for p in chance.choice(lexicon[word][:2])]
        string.append((SIL, True))
    return string if len(string) > 1 else [(SIL, False)]


@functools.lru_cache(maxsize=100_000)
def states_of(string, contexts):
    """(outputs, may begin, may end, [(state, how many back a state is that it may follow, less one)]) of a phone string."""
    said = lambda place: string[place][0] if place >= 0 else SIL
    outputs, begins, places, follows = [], [], [], []
    for at, (phone, _) in enumerate(string):
        left_out = at > 0 and string[at - 1][1]
        sources = [at - 1, at - 2] if left_out else [at - 1]
        for before in sorted({said(place) for place in sources}) if contexts > 1 else [SIL]:
            number = len(outputs)
            outputs.append(PHONES * before + phone if contexts > 1 else phone)
            mine = [place for place in sources if contexts == 1 or said(place) == before]
            begins.append(-1 in mine)
            follows += [(number, number - other - 1) for other in range(max(0, number - BACK), number) if places[other] in mine]
            places.append(at)
    last = len(string) - 1
    ends = [place == last or (place == last - 1 and string[last][1]) for place in places]
    return outputs, begins, ends, follows


def batch_of(strings, longest, contexts=1):
    """Phone strings -> arrays for `numerator`. A state is a phone of a string or, with contexts, a phone after another one:
    `outputs` [B, S], which pair of outputs it has; log weights, 0 or NEVER: `start` and `end` [B, S], whether the string may
    begin or end with it, and `from` [B, S, BACK], whether it may follow the state so many before it."""
    outputs = np.zeros((len(strings), longest), np.int32)
    start, end = (np.full((len(strings), longest), NEVER, np.float32) for _ in range(2))
    back = np.full((len(strings), longest, BACK), NEVER, np.float32)
    for row, string in enumerate(strings):
        of_states, begins, ends, follows = states_of(tuple(string), contexts)
        count = len(of_states)
        outputs[row, :count] = of_states
        start[row, :count][begins] = 0
        end[row, :count][ends] = 0
        for number, by in follows:
            back[row, number, by] = 0
    return {"outputs": outputs, "start": start, "end": end, "from": back}


def most_states(words, phones, contexts=1):
    """States of the longest string with so many words and phones in all, silences among them."""
    return 2 + phones + words + (words if contexts > 1 else 0)


def numerator(x, lengths, graph):
    """log P(sound | words). `x` [B, T, outputs], `lengths` [B] in frames of x."""
    batch, _, _ = x.shape
    states = graph["outputs"].shape[1]
    pick = lambda outputs: jnp.take_along_axis(outputs, jnp.broadcast_to(graph["outputs"][:, None], (batch, x.shape[1], states)), 2)
    first, loop = pick(x[:, :, 0::2]), pick(x[:, :, 1::2])
    shifted = lambda a, by: jnp.pad(a[:, :-by], ((0, 0), (by, 0)), constant_values=NEVER)

    def step(carry, now):
        entered, looping, total, time = carry
        first, loop = now
        leaving = jnp.logaddexp(entered, looping) + HALF
        arriving = jax.nn.logsumexp(jnp.stack([shifted(leaving, by + 1) for by in range(BACK)], 2) + graph["from"], axis=2)
        begin = time == 0
        entered = jnp.where(begin, graph["start"], arriving) + first
        looping = jnp.where(begin, NEVER, leaving) + loop
        ended = jax.nn.logsumexp(jnp.logaddexp(entered, looping) + graph["end"], axis=1)
        return (entered, looping, jnp.where(lengths == time + 1, ended, total), time + 1), None

    nothing = jnp.full((batch, states), NEVER)
    (_, _, total, _), _ = jax.lax.scan(step, (nothing, nothing, jnp.zeros(batch), 0),
                                       (first.transpose(1, 0, 2), loop.transpose(1, 0, 2)))
    return total


def phone_model(strings, order=3, chance=None, smooth=0.02):
    """A phone language model from phone strings, whose optional silences are drawn: {start, next, end} probabilities.

    `order` 2: next [p, q]. `order` 3: next [p, q, r], interpolated with the bigram; `end` then is [p, q]. State `PHONES` of the
    first index is the beginning.
    """
    two, three = np.full((PHONES + 1, PHONES + 1), smooth), np.zeros((PHONES + 1, PHONES, PHONES + 1))
    for string in strings:
        last = len(string) - 1
        said = [phone for at, (phone, optional) in enumerate(string)
                if not optional or chance.random() < (0.8 if at in (0, last) else 0.25)]
        before, previous = PHONES, PHONES
        for phone in [*said, PHONES]:
            two[previous, phone] += 1
            if previous != PHONES:
                three[before, previous, phone] += 1
            before, previous = previous, phone
    two /= two.sum(1, keepdims=True)
    f = np.float32
    if order == 2:
        return {"start": two[PHONES, :PHONES].astype(f), "next": two[:PHONES, :PHONES].astype(f), "end": two[:PHONES, PHONES].astype(f)}
    # Witten-Bell: what was seen counts by itself, the bigram as often as there were different continuations.
    kinds = np.maximum((three > 0).sum(2, keepdims=True), 1)
    three = (three + kinds * two[None, :PHONES]) / (three.sum(2, keepdims=True) + kinds)
    return {"start": two[PHONES, :PHONES].astype(f), "next": three[:, :, :PHONES].astype(f), "end": three[:, :, PHONES].astype(f)}


def denominator(x, lengths, model):
    """log P(sound | phone language model); in the range of probabilities, scaled at every frame."""
    order = 2 if model["next"].ndim == 2 else 3
    contexts = contexts_of(x.shape[2])
    if order == 2 and contexts > 1:
        raise ValueError("phones with contexts need a phone model of order 3")
    top = jax.lax.stop_gradient(x.max(2, keepdims=True))
    likely = jnp.exp(x - top)
    batch = x.shape[0]
    if order == 2:
        of_states = lambda likely: likely
        start = jnp.broadcast_to(model["start"], (batch, PHONES))
        onward = lambda leaving: jnp.matmul(leaving, model["next"], precision=EXACT)
    else:  # states are (phone before, phone); before the first one there was silence
        def of_states(likely):
            of_phones = likely.reshape(*likely.shape[:2], contexts, PHONES)
            return of_phones if contexts == 1 else jnp.concatenate([of_phones, of_phones[:, :, SIL:SIL + 1]], 2)
        start = jnp.zeros((batch, PHONES + 1, PHONES)).at[:, PHONES].set(model["start"])
        onward = lambda leaving: jnp.pad(jnp.einsum("bpq,pqr->bqr", leaving, model["next"], precision=EXACT), ((0, 0), (0, 1), (0, 0)))
    first, loop = of_states(likely[:, :, 0::2]), of_states(likely[:, :, 1::2])
    axes = tuple(range(1, start.ndim))

    def step(carry, now):
        entered, looping, log, total, time = carry
        first, loop, top = now
        leaving = 0.5 * (entered + looping)
        begin = time == 0
        entered = jnp.where(begin, start, onward(leaving)) * first
        looping = jnp.where(begin, 0.0, leaving) * loop
        scale = jnp.maximum((entered + looping).sum(axes), 1e-30)
        shape = (batch,) + (1,) * len(axes)
        entered, looping, log = entered / scale.reshape(shape), looping / scale.reshape(shape), log + jnp.log(scale) + top
        ended = log + jnp.log(((entered + looping) * model["end"]).sum(axes))
        return (entered, looping, log, jnp.where(lengths == time + 1, ended, total), time + 1), None

    zeros = jnp.zeros_like(start)
    (_, _, _, total, _), _ = jax.lax.scan(jax.checkpoint(step), (zeros, zeros, jnp.zeros(batch), jnp.zeros(batch), 0),
                                          (first.swapaxes(0, 1), loop.swapaxes(0, 1), top[:, :, 0].T))
    return total
