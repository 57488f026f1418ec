"""Trains the phones that are read off the second listener's encoder.

    python -m listener.train_head --reels FOLDER... --lexicon LEXICON --encoder encoder_model.ort --minutes 8 OUT

Speech is drawn and made anew each time as in `train`. `--whole` trains the encoder along with the head, at a fraction of its
rate. OUT gets `head.npz`, with `--whole` also `encoder.npz`, the mean along the way, and `log.tsv`: step, seconds,
loss in training, loss and wrong phones in a hundred on people who are kept out whole, and on other speech kept out.
"""

import argparse
import math
import random
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import optax

from . import augment, encoder, head, noises, people, reels
from .texts import read_lexicon
from .train import PEOPLE_KEPT_OUT, speaker_of, weights_of

# Seconds of sound of the sizes that batches come in, and how many utterances are in one.
SIZES = {1.5: 448, 2.6: 256, 4.5: 144, 7.0: 88}
# Those that are looked at on the way: what others are compiled for takes as long, and tells little more.
LOOKED_AT = (1.5, 4.5)
SILENT, KEPT_OUT = 0.05, 400


class Corpus:
    """Utterances in one flat array, with their phones; drawn in batches of one size."""

    def __init__(self, utterances, lexicon, seed, sizes, people):
        self.lexicon, self.chance, self.sizes = lexicon, random.Random(seed), sizes
        kept, sounds, at, skipped = [], [], 0, 0
        for sound, text, kind, source in utterances:
            known = all(word in lexicon for word in text.split())
            phones = sum(max(map(len, lexicon[w])) for w in text.split()) if known else 0
            fits = [s for s in sizes if len(sound) / 0.88 / reels.RATE + 0.1 < s]
            if not known or not fits or 1.2 * phones + 2 > len(sound) / 1.15 / encoder.SHIFT:
                skipped += 1
                continue
            kept.append((at, len(sound), text, kind, source, fits[0]))
            sounds.append(sound)
            at += len(sound)
        print(f"{len(kept)} utterances, {at / reels.RATE / 3600:.2f} h; {skipped} skipped", flush=True)
        self.sound = np.concatenate([*sounds, np.zeros(2, np.int16)])
        self.voices = [s for s, k in zip(sounds, kept) if len(s) > reels.RATE][:4000]
        known = sorted({speaker_of(row) for row in kept} - {None})
        strangers = set(random.Random(2).sample(known, len(known) * PEOPLE_KEPT_OUT // 100))
        others = random.Random(1).sample([row for row in kept if speaker_of(row) is None], len(kept) - sum(speaker_of(r) is not None for r in kept))
        out = set(others[:min(KEPT_OUT, len(others) // 10)])
        self.kept_out = {"strangers": [row for row in kept if speaker_of(row) in strangers][:KEPT_OUT], "others": [r for r in others if r in out]}
        left = [row for row in kept if row not in out and speaker_of(row) not in strangers]
        weigh = weights_of(left, people)
        # Also in more sound than it needs, as a pause before the end is decided gives.
        longer = dict(zip(sizes, [*list(sizes)[1:], None]))
        self.rows = {size: [row for row in left if row[5] == size or longer[row[5]] == size] for size in sizes}
        share = lambda row, size: weigh[row] * (0.6 if row[5] == size else 0.4)
        self.weights = {size: np.cumsum([share(row, size) for row in rows]) for size, rows in self.rows.items()}
        self.often = [(self.weights[s][-1] if len(self.weights[s]) else 0) / sizes[s] for s in sizes]
        # The longest string of phones of each size.
        self.longest = {s: max((self.most(r) for r in kept if r[5] == s or longer[r[5]] == s), default=1) for s in sizes}

    def most(self, row):
        return sum(max(map(len, self.lexicon[w])) for w in row[2].split())

    def phones(self, row):
        return [head.NUMBER[p] for word in row[2].split() for p in self.chance.choice(self.lexicon[word])]

    def batch(self, size=None, rows=None):
        """(size, starts, lengths, silent, labels, number of them)."""
        silent = None
        if rows is None:
            size = self.chance.choices(list(self.sizes), self.often)[0]
            weights = self.weights[size]
            picks = np.searchsorted(weights, [self.chance.random() * weights[-1] for _ in range(self.sizes[size])])
            rows = [self.rows[size][p] for p in picks]
            silent = np.array([self.chance.random() < SILENT for _ in rows])
        silent = np.zeros(len(rows), bool) if silent is None else silent
        labels, many = np.zeros((len(rows), self.longest[size]), np.int32), np.zeros(len(rows), np.int32)
        for n, (row, quiet) in enumerate(zip(rows, silent)):
            said = [] if quiet else self.phones(row)
            labels[n, :len(said)], many[n] = said, len(said)
        return size, np.array([r[0] for r in rows]), np.array([r[1] for r in rows]), silent, labels, many


def loss_of(parameters, key, data, sound, noise, rooms, samples, drop):
    starts, lengths, silent, labels, many = data
    heard = augment.batch(jax.random.fold_in(key, 0), sound, starts, lengths, noise, samples, silent, rooms) / augment.FULL
    rows = encoder.encode(parameters["encoder"], heard)
    logs = head.forward(parameters["head"], rows, drop, jax.random.fold_in(key, 1))
    padded = (jnp.arange(labels.shape[1])[None] >= many[:, None]).astype(jnp.float32)
    each = optax.ctc_loss(logs, jnp.zeros(logs.shape[:2]), labels, padded)
    fits = jnp.isfinite(each) & (each < 1e4)
    return jnp.where(fits, each, 0).sum() / jnp.maximum(many.sum(), 1), logs


def distance(said, heard):
    """Edit distance of two strings."""
    row = list(range(len(heard) + 1))
    for n, a in enumerate(said, 1):
        diagonal, row[0] = row[0], n
        for m, b in enumerate(heard, 1):
            diagonal, row[m] = row[m], min(row[m] + 1, row[m - 1] + 1, diagonal + (a != b))
    return row[-1]


def train(said):
    said.out.mkdir(parents=True, exist_ok=True)
    began = time.time()
    lexicon = {**(read_lexicon(said.dictionary) if said.dictionary else {}), **read_lexicon(said.lexicon)}
    sizes = {size: max(1, said.batch * many // 512) if said.batch else many for size, many in SIZES.items() if size <= said.longest}
    spoken = [u for folder in said.reels for u in reels.read(folder)]
    spoken += [u for folder in said.folders for u in people.spoken(folder)]
    print(f"read after {time.time() - began:.0f} s", flush=True)
    corpus = Corpus(spoken, lexicon, said.seed, sizes, said.people)
    real = noises.recordings(said.recordings) if said.recordings else ()
    noise = jnp.asarray(noises.bank(said.seed, said.noise, corpus.voices, real=real))
    rooms = jnp.asarray(noises.rooms(said.recordings)) if said.recordings else None
    sound = jnp.asarray(corpus.sound)
    parameters = {"encoder": encoder.weights(said.encoder), "head": head.random(said.seed, said.wide)}
    for base in said.base:
        parameters[base.stem] = unflat(dict(np.load(base)), parameters[base.stem])
    parameters = jax.tree.map(jnp.asarray, parameters)
    # The encoder knows far more people than there are here: it moves slowly, or not at all.
    pace = {"encoder": said.whole, "head": 1.0}
    chain = optax.chain(optax.clip_by_global_norm(1.0), optax.scale_by_adam(b2=0.98), optax.add_decayed_weights(1e-3))
    learns = lambda tree: tree if said.whole else {"head": tree["head"]}
    state = {"now": parameters, "mean": jax.tree.map(jnp.copy, parameters), "adam": chain.init(learns(parameters))}

    def step(state, rate, key, data, sound, noise, rooms, samples):
        learning = learns(state["now"])
        fixed = state["now"]
        whole = lambda some: {**fixed, **some}
        (loss, _), slope = jax.value_and_grad(lambda some: loss_of(whole(some), key, data, sound, noise, rooms, samples, said.drop),
                                              has_aux=True)(learning)
        change, adam = chain.update(slope, state["adam"], learning)
        usable = jnp.isfinite(optax.tree.norm(slope))
        keep = lambda new, old: jax.tree.map(lambda n, o: jnp.where(usable, n, o), new, old)
        moved = {name: jax.tree.map(lambda p, c: p - rate * pace[name] * c, learning[name], change[name]) for name in learning}
        now = whole(keep(moved, learning))
        mean = jax.tree.map(lambda m, p: said.average * m + (1 - said.average) * p, state["mean"], now)
        return {"now": now, "mean": mean, "adam": keep(adam, state["adam"])}, loss

    def test(parameters, key, data, sound, noise, rooms, samples):
        return loss_of(parameters, key, data, sound, noise, rooms, samples, 0.0)

    step = jax.jit(step, static_argnames="samples", donate_argnums=0)
    test = jax.jit(test, static_argnames="samples")

    def compiled(job):
        function, size = job
        data = corpus.batch(size, [corpus.rows[size][0]] * sizes[size])[1:]
        first = (state, jnp.float32(0)) if function is step else (state["mean"],)
        return function.lower(*first, jax.random.key(0), tuple(data), sound, noise, rooms, samples=int(size * reels.RATE)).compile()

    jobs = [(function, size) for function in (step, test) for size in sizes
            if corpus.rows[size] and (function is step or size in LOOKED_AT)]
    with ThreadPoolExecutor() as pool:
        ready = dict(zip(jobs, pool.map(compiled, jobs)))
    print(f"ready after {time.time() - began:.0f} s", flush=True)

    def kept_out(whose):
        losses, wrong, all_ = [], 0, 0
        for size, many in sizes.items():
            rows = [r for r in corpus.kept_out[whose] if r[5] == size]
            if not rows or (test, size) not in ready:
                continue
            corpus.chance, kept = random.Random(0), corpus.chance
            data = corpus.batch(size, (rows * many)[:many])[1:]
            corpus.chance = kept
            loss, logs = ready[test, size](state["mean"], jax.random.key(7), tuple(data), sound, noise, rooms)
            losses.append(float(loss))
            best = np.asarray(logs.argmax(-1))
            for n in range(min(len(rows), many)):
                line = [p for p, before in zip(best[n], [0, *best[n][:-1]]) if p and p != before]
                wrong += distance(list(data[3][n][:data[4][n]]), line)
                all_ += data[4][n]
        return f"{np.mean(losses) if losses else math.nan:.4f}", f"{100 * wrong / max(all_, 1):.1f}"

    def save():
        for name, tree in learns(state["mean"]).items():
            np.savez(said.out / f"{name}.npz", **{leaf: np.asarray(value, np.float16) for leaf, value in flat_of(tree).items()})

    losses, number, training = [], 0, time.time()
    log = (said.out / "log.tsv").open("a")
    while (done := number / said.steps if said.steps else (time.time() - began) / (60 * said.minutes)) < 1:
        rate = said.rate * min(1.0, 0.05 + number / 300) * (0.02 + 0.49 * (1 + math.cos(math.pi * done)))
        size, *data = corpus.batch()
        state, loss = ready[step, size](state, jnp.float32(rate), jax.random.fold_in(jax.random.key(said.seed), number), tuple(data),
                                        sound, noise, rooms)
        losses.append(loss)
        number += 1
        if number % said.report == 0:
            line = "\t".join([str(number), f"{time.time() - began:.0f}", f"{np.mean([float(x) for x in losses]):.4f}",
                              *kept_out("strangers"), *kept_out("others")])
            losses = []
            save()
            print(line, flush=True)
            log.write(line + "\n")
            log.flush()
    save()
    print(f"{number} batches in {time.time() - training:.0f} s")


def flat_of(tree):
    named = jax.tree_util.tree_leaves_with_path(tree)
    return {"/".join(str(getattr(p, "key", getattr(p, "idx", p))) for p in path): leaf for path, leaf in named}


def unflat(leaves, like):
    """The tree `like` with those leaves that `leaves` has."""
    named, shape = jax.tree_util.tree_flatten_with_path(like)
    name = lambda path: "/".join(str(getattr(p, "key", getattr(p, "idx", p))) for p in path)
    return jax.tree_util.tree_unflatten(shape, [np.asarray(leaves.get(name(path), leaf), np.float32) for path, leaf in named])


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("--reels", type=Path, nargs="*", default=[])
    ask.add_argument("--folders", type=Path, nargs="*", default=[], help="recordings of people, as `people` takes them")
    ask.add_argument("--lexicon", type=Path, default="../listener-en/lexicon.txt")
    ask.add_argument("--dictionary", type=Path)
    ask.add_argument("--encoder", type=Path, required=True)
    ask.add_argument("--recordings", type=Path, help="a folder of recorded noise and rooms")
    ask.add_argument("--noise", type=float, default=120, help="minutes of noise")
    ask.add_argument("--people", type=float, help="the share of what is heard that is by people")
    ask.add_argument("--base", type=Path, nargs="*", default=[], help="go on from these: head.npz, encoder.npz")
    ask.add_argument("--whole", type=float, default=0.0, help="the encoder's rate, as a part of the head's")
    ask.add_argument("--wide", type=int, default=head.WIDE)
    ask.add_argument("--rate", type=float, default=0.001)
    ask.add_argument("--drop", type=float, default=0.1)
    ask.add_argument("--average", type=float, default=0.999)
    ask.add_argument("--minutes", type=float, default=8)
    ask.add_argument("--steps", type=int, help="so many batches, however long they take")
    ask.add_argument("--report", type=int, default=400)
    ask.add_argument("--batch", type=int, help="utterances in a batch of the shortest")
    ask.add_argument("--longest", type=float, default=max(SIZES), help="seconds of the longest batches")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("out", type=Path)
    train(ask.parse_args())


if __name__ == "__main__":
    main()
