"""Trains the network on reels.

    python -m listener.train --reels FOLDER --lexicon LEXICON --base final.mdl --steps 8000 OUT

OUT gets `checkpoint.npz`; the same command goes on from it, so that a long training can be done in pieces (`--minutes`
ends a piece). `weights.npz` beside it is what `export` reads: the average of the last weights, which hears better than the
last alone; `--keep` writes it along the way as well. `log.tsv` has the step, the seconds, the objective in training, on
utterances kept out of it, and on those of people who are kept out whole.
"""

import argparse
import collections
import functools
import json
import math
import random
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import optax

from . import augment, features, mmi, network, noises, reels
from .phones import contexts_of
from .texts import read_language, read_lexicon

# Seconds of sound of the sizes that batches come in, and how many utterances are in one. Few sizes: each is compiled.
SIZES = {2.2: 320, 3.6: 192, 7.0: 96}
# How often an utterance of a source is drawn, against the others. Of people: numbers are what the program needs most; in the
# two benchmark sets few speakers order coffee again and again.
WEIGHTS = {"kokoro": 1.5, "espeak-ng": 0.4, "svox": 0.5, "rhvoice": 0.7, "diphone": 0.7, "pico": 0.4, "wwb": 0.3,
           "adagioNeo/VoiceInterpreter": 2.0}
# A person is heard as often as every other, but nobody as if there were more than so many utterances or fewer than there are.
OF_A_SPEAKER = 8
SILENT = 0.03
# How often words that no phrase has are taken for other speech, by what is said.
UNKNOWN = {"talk": 0.5, "words": 0.5, "people": 0.25}
# With `--wide`, how many utterances are heard with a band missing, and of how many bins at most.
DEAF, MOST_DEAF = 0.4, 8
# Utterances kept out of the training, and of a hundred people who are known by name, how many are kept out whole.
KEPT_OUT, PEOPLE_KEPT_OUT = 300, 5


def speaker_of(row):
    """Who speaks, if that is a person who is known by name (`people` writes it after the source)."""
    _, _, speaker = row[4].partition(" ")
    return speaker if row[3] == "people" and speaker not in ("", "-") else None


def weights_of(rows, people=None):
    """row -> how often it is drawn, against the others. `people`: the share of all that is by people."""
    many = collections.Counter(speaker_of(row) for row in rows)
    many[None] = 1
    weights = {row: WEIGHTS.get(row[4].split()[0], 1.0) * min(1.0, OF_A_SPEAKER / many[speaker_of(row)]) for row in rows}
    if people is not None:
        of = {mine: sum(w for row, w in weights.items() if (row[3] == "people") == mine) for mine in (True, False)}
        if not all(of.values()):
            raise SystemExit("--people: a share needs speech of people and other speech")
        weights = {row: w * (people / of[True] if row[3] == "people" else (1 - people) / of[False]) for row, w in weights.items()}
    return weights


class Corpus:
    """Utterances in one flat array, with their phone strings; drawn in batches of one size."""

    def __init__(self, utterances, lexicon, commands, seed, sizes, contexts, people=None):
        self.lexicon, self.chance, self.sizes = lexicon, random.Random(seed), sizes
        self.commands = commands
        kept, sounds, at, skipped = [], [], 0, 0
        for sound, text, kind, source in utterances:
            size = next((s for s in sizes if len(sound) / 0.88 / reels.RATE + 0.3 < s), None)
            known = all(word in lexicon for word in text.split())
            # Said faster than three frames a phone, an utterance has no alignment.
            phones = sum(max(map(len, lexicon[w][:2])) for w in text.split()) if known else 0
            if size is None or not known or phones + 2 > len(sound) / 1.15 / features.SHIFT / 3:
                skipped += 1
                continue
            kept.append((at, len(sound), text, kind, source, size))
            sounds.append(sound)
            at += len(sound)
        print(f"{len(kept)} utterances, {at / reels.RATE / 3600:.2f} h; {skipped} skipped", flush=True)
        self.sound = np.concatenate([*sounds, np.zeros(2, np.int16)])
        self.voices = [s for s, k in zip(sounds, kept) if len(s) > reels.RATE][:4000]
        order = random.Random(1).sample(kept, len(kept))
        known = sorted({speaker_of(row) for row in kept} - {None})
        strangers = set(random.Random(2).sample(known, len(known) * PEOPLE_KEPT_OUT // 100))
        by_strangers = [row for row in order if speaker_of(row) in strangers]
        # Of people who are known by name nobody is both in the training and out of it.
        others = [row for row in order if speaker_of(row) is None]
        out = set(others[:max(1, min(KEPT_OUT, len(others) // 10))])
        self.kept_out = {"others": [row for row in others if row in out], "strangers": by_strangers[:KEPT_OUT]}
        left = [row for row in order if row not in out and speaker_of(row) not in strangers]
        self.rows = {size: [row for row in left if row[5] == size] for size in sizes}
        weigh = weights_of(left, people)
        self.weights = {size: np.cumsum([weigh[row] for row in rows]) for size, rows in self.rows.items()}
        # Batches of a size as often as its utterances need.
        self.often = [(self.weights[s][-1] if len(self.weights[s]) else 0) / sizes[s] for s in sizes]
        longest = {}
        for row in kept:
            said = [max(map(len, lexicon[w][:2])) for w in row[2].split()]
            longest[row[5]] = max(longest.get(row[5], 0), mmi.most_states(len(said), sum(said), contexts))
        self.longest, self.contexts = longest, contexts

    def string(self, row):
        words = row[2].split()
        unknown = ()
        if row[3] in UNKNOWN and self.chance.random() < UNKNOWN[row[3]]:
            unknown = {word for word in words if word not in self.commands}
        return mmi.phone_string(row[2], self.lexicon, self.chance, unknown)

    def batch(self, size=None, rows=None):
        """(size, starts, lengths, silent, graph) of utterances drawn, or of `rows`."""
        if rows is None:
            size = self.chance.choices(list(self.sizes), self.often)[0]
            weights = self.weights[size]
            picks = np.searchsorted(weights, [self.chance.random() * weights[-1] for _ in range(self.sizes[size])])
            rows = [self.rows[size][p] for p in picks]
            silent = np.array([self.chance.random() < SILENT for _ in rows])
        else:
            silent = np.zeros(len(rows), bool)
        strings = [mmi.phone_string("", self.lexicon, self.chance) if quiet else self.string(row) for row, quiet in zip(rows, silent)]
        graph = mmi.batch_of(strings, self.longest[size], self.contexts)
        return size, np.array([r[0] for r in rows]), np.array([r[1] for r in rows]), silent, graph


def objective(parameters, key, data, sound, noise, rooms, fixed, model, samples, drop, wide=False):
    """Minus MMI per output frame, and that plus a little of the squared outputs, which keeps them in range."""
    starts, lengths, silent, graph = data
    heard = augment.batch(jax.random.fold_in(key, 0), sound, starts, lengths, noise, samples, silent, rooms)
    # Other throats, most of them near to the speaker's own.
    throats = jnp.asarray(features.THROATS)
    middle = (len(features.THROATS) - 1) / 2
    drawn, deaf = jnp.zeros(len(starts)), None
    if drop:
        drawn = jax.random.triangular(jax.random.fold_in(key, 2), -middle, 0.0, middle, (len(starts),))
    if drop and wide:
        drawn = jax.random.uniform(jax.random.fold_in(key, 2), (len(starts),), minval=-middle, maxval=middle)
        where, many, whether = (jax.random.uniform(jax.random.fold_in(key, n), (len(starts), 1)) for n in (3, 4, 5))
        bins = jnp.arange(features.BINS)
        first = where * features.BINS
        deaf = (whether < DEAF) & (bins >= first) & (bins < first + many * MOST_DEAF)
    frames = network.padded(features.mfcc(heard, throats[jnp.round(middle + drawn).astype(int)], deaf))
    count = -(-features.frames_in(samples) // 3)
    x = network.forward(parameters, fixed, frames, drop=drop, key=jax.random.fold_in(key, 1))[:, :count]
    lengths = jnp.full(len(starts), count)
    gap = mmi.denominator(x, lengths, model) - mmi.numerator(x, lengths, graph)
    # An utterance that fits no alignment after all must not spoil a batch.
    fits = jnp.isfinite(gap) & (gap < 1e6)
    mmi_per_frame = jnp.where(fits, gap, 0).sum() / jnp.maximum(fits.sum() * count, 1)
    return mmi_per_frame + 3e-4 * (x ** 2).mean(), mmi_per_frame


def flat(tree):
    return {"/".join(str(p.key) for p in path): np.asarray(leaf) for path, leaf in jax.tree_util.tree_leaves_with_path(tree)}


def train(said):
    said.out.mkdir(parents=True, exist_ok=True)
    began = time.time()
    lexicon = read_lexicon(said.lexicon)
    if said.dictionary:
        lexicon = {**read_lexicon(said.dictionary), **lexicon}
    language = read_language(said.language)
    commands = {w for patterns in language["phrases"].values() for p in patterns for w in p.split()}
    commands |= {w for c in language["numbers"]["cardinals"] for w in c.split()} | {"hundred", "and", "point", "a", "half"}
    sizes = {size: max(1, said.batch * b // 320) if said.batch else b for size, b in SIZES.items() if size <= said.longest}
    if not sizes:
        raise SystemExit(f"--longest {said.longest}: the shortest batches are of {min(SIZES)} s")
    saved = said.out / "checkpoint.npz"
    before = json.loads((said.out / "state.json").read_text()) if saved.exists() else {"step": 0}
    utterances = [u for folder in said.reels for u in reels.read(folder)]
    if said.base and said.base.suffix == ".npz":
        parameters, fixed = read_weights(said.base)
    else:
        parameters, fixed = network.from_base(said.base) if said.base else network.random(*said.random)
    if said.new_outputs:
        parameters = network.with_new_outputs(parameters, fixed)
    if said.narrow:
        parameters, fixed = network.grown(parameters, fixed, said.narrow)
    if said.contexts:
        parameters = network.with_contexts(parameters)
    contexts = contexts_of(len(network.whole_output(parameters)["bias"]))
    corpus = Corpus(utterances, lexicon, commands, f"{said.seed} {before['step']}", sizes, contexts, said.people)
    model = mmi.phone_model([corpus.string(row) for rows in corpus.rows.values() for row in rows] * 2, said.order, corpus.chance)
    real = noises.recordings(said.recordings) if said.recordings else ()
    noise = jnp.asarray(noises.bank(said.seed + before["step"], said.noise, corpus.voices, real=real))
    rooms = jnp.asarray(noises.rooms(said.recordings)) if said.recordings else None
    rooms = rooms if rooms is not None and len(rooms) else None
    sound = jnp.asarray(corpus.sound)
    chain = optax.chain(optax.clip_by_global_norm(5.0), optax.scale_by_adam(), optax.add_decayed_weights(1e-5))
    state = {"now": parameters, "mean": parameters, "adam": chain.init(parameters)}
    if saved.exists():
        loaded = np.load(saved)
        leaves, shape = jax.tree_util.tree_flatten(state)
        state = jax.tree_util.tree_unflatten(shape, [loaded[f"leaf{n}"] for n in range(len(leaves))])
        print(f"going on from step {before['step']}", flush=True)
    state = jax.tree.map(jnp.asarray, state)
    fixed_, model_ = jax.tree.map(jnp.asarray, fixed), jax.tree.map(jnp.asarray, model)

    # Sound, noise and the rest are arguments, not constants: constants would be folded and copied while compiling.
    @functools.partial(jax.jit, static_argnames="samples", donate_argnums=0)
    def step(state, rate, key, data, sound, noise, rooms, fixed, model, samples):
        (_, loss), slope = jax.value_and_grad(objective, has_aux=True)(
            state["now"], key, data, sound, noise, rooms, fixed, model, samples, said.drop, said.wide)
        change, adam = chain.update(slope, state["adam"], state["now"])
        # A batch whose slope is no number is left out whole: one such update would end the training.
        usable = jnp.isfinite(optax.tree.norm(slope))
        keep = lambda new, old: jax.tree.map(lambda n, o: jnp.where(usable, n, o), new, old)
        adam = keep(adam, state["adam"])
        now = keep(jax.tree.map(lambda p, c: p - rate * c, state["now"], change), state["now"])
        mean = jax.tree.map(lambda m, p: said.average * m + (1 - said.average) * p, state["mean"], now)
        return {"now": now, "mean": mean, "adam": adam}, loss

    @functools.partial(jax.jit, static_argnames="samples")
    def test(parameters, key, data, sound, noise, rooms, fixed, model, samples):
        return objective(parameters, key, data, sound, noise, rooms, fixed, model, samples, 0.0)[1]

    # Each size is compiled once, all at the same time: on a graphics card that is most of the wait before the first batch.
    def compiled(job):
        function, size = job
        data = corpus.batch(size, [corpus.rows[size][0]] * sizes[size])[1:]
        first, *rest = (state, jnp.float32(0)) if function is step else (state["mean"],)
        return function.lower(first, *rest, jax.random.key(0), tuple(data), sound, noise, rooms, fixed_, model_,
                              int(size * reels.RATE)).compile()

    jobs = [(function, size) for function in (step, test) for size in sizes if corpus.rows[size] and before["step"] < said.steps]
    with ThreadPoolExecutor() as pool:
        ready = dict(zip(jobs, pool.map(compiled, jobs)))
    print(f"ready after {time.time() - began:.0f} s", flush=True)

    def kept_out(whose):
        """The objective on utterances kept out, by the mean weights, in the same noise each time."""
        losses = []
        for size, many in sizes.items():
            rows = [r for r in corpus.kept_out[whose] if r[5] == size and corpus.rows[size]]
            for at in range(0, len(rows), many):
                corpus.chance, kept = random.Random(0), corpus.chance
                data = corpus.batch(size, (rows[at:at + many] * many)[:many])[1:]  # filled up by going round
                corpus.chance = kept
                losses.append(float(ready[test, size](state["mean"], jax.random.key(at), tuple(data), sound, noise, rooms, fixed_, model_)))
        return float(np.mean(losses)) if losses else float("nan")

    losses, number = [], before["step"]
    log = (said.out / "log.tsv").open("a")
    while number < said.steps and time.time() - began < said.minutes * 60:
        done = max(number / said.steps, (time.time() - began) / (said.within * 60))
        if done >= 1:
            break
        # Up in 200 steps, then down along half a cosine to a fiftieth of the rate.
        rate = said.rate * min(1.0, 0.05 + (number - before["step"]) / 200) * (0.02 + 0.49 * (1 + math.cos(math.pi * done)))
        size, *data = corpus.batch()
        state, loss = ready[step, size](state, jnp.float32(rate), jax.random.fold_in(jax.random.key(said.seed), number), tuple(data),
                                        sound, noise, rooms, fixed_, model_)
        number += 1
        losses.append(loss)
        if number % said.report == 0 or number == said.steps:
            mean = float(np.mean([float(x) for x in losses]))
            losses = []
            line = f"{number}\t{time.time() - began:.0f}\t{mean:.4f}\t{kept_out('others'):.4f}\t{kept_out('strangers'):.4f}"
            print(line, flush=True)
            log.write(line + "\n")
        if number in said.keep:
            write_weights(said.out / f"weights-{number}.npz", state["mean"], fixed, half=True)
    log.close()
    if not all(np.isfinite(leaf).all() for leaf in jax.tree_util.tree_leaves(jax.tree.map(np.asarray, state["mean"]))):
        raise SystemExit("the weights are no numbers any more; nothing was written. Try a smaller --rate")
    np.savez(saved, **{f"leaf{n}": np.asarray(leaf) for n, leaf in enumerate(jax.tree_util.tree_leaves(state))})
    (said.out / "state.json").write_text(json.dumps({"step": number, "of": said.steps}))
    write_weights(said.out / "weights.npz", state["mean"], fixed)
    print(f"{said.out}: step {number} of {said.steps}", flush=True)


def write_weights(path, parameters, fixed, half=False):
    """`half`: the weights in half precision, which is enough to hear with and to make a mean of."""
    fixed_flat = {f"fixed/{name}/{n}": np.asarray(a) for name, pair in fixed.items() for n, a in enumerate(pair)}
    np.savez(path, **{f"net/{k}": v.astype(np.float16) if half else v for k, v in flat(parameters).items()}, **fixed_flat)


def read_weights(path):
    """(parameters, fixed) as `network` takes them; in single precision, which training needs, whatever the file has."""
    parameters, fixed = {}, {}
    for key, array in np.load(path).items():
        kind, layer, name = key.split("/")
        (parameters if kind == "net" else fixed).setdefault(layer, {})[name] = array.astype(np.float32)
    return parameters, {layer: (pair["0"], pair["1"]) for layer, pair in fixed.items()}


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("--reels", type=Path, nargs="+", required=True)
    ask.add_argument("--lexicon", type=Path, default="../listener-en/lexicon.txt")
    ask.add_argument("--dictionary", type=Path, help="more pronunciations, for words of training speech only")
    ask.add_argument("--language", type=Path, default="../../src/dialogue/languages/en.toml")
    ask.add_argument("--base", type=Path, help="what to begin with: final.mdl of the base network, one that was exported, or a weights.npz")
    ask.add_argument("--new-outputs", action="store_true", help="begin with the base's layers, but with a new last one")
    ask.add_argument("--random", type=int, nargs=2, default=(96, 24), help="width and narrow width of a network from nothing")
    ask.add_argument("--narrow", type=int, help="widen the narrow middle of the base's layers to so many")
    ask.add_argument("--contexts", action="store_true", help="let outputs depend on the phone before, too (biphones)")
    ask.add_argument("--steps", type=int, default=8000)
    ask.add_argument("--minutes", type=float, default=1e9, help="stop after so many; the same command goes on")
    ask.add_argument("--within", type=float, default=1e9, help="let the rate fall to its end in so many minutes, and stop")
    ask.add_argument("--batch", type=int, help="utterances in a batch of the shortest size (320)")
    ask.add_argument("--longest", type=float, default=max(SIZES), help="leave out longer batches (s), and what only they hold")
    ask.add_argument("--rate", type=float, default=1e-3)
    ask.add_argument("--drop", type=float, default=0.1)
    ask.add_argument("--average", type=float, default=0.998)
    ask.add_argument("--order", type=int, choices=(2, 3), default=3, help="of the phone language model")
    ask.add_argument("--noise", type=float, default=40, help="minutes in the bank of noises")
    ask.add_argument("--recordings", type=Path, help="folder of recorded noise and rooms, to have among the made ones")
    ask.add_argument("--people", type=float, help="the share of what is heard that is by people; else as their weights say")
    ask.add_argument("--wide", action="store_true", help="throats of all lengths alike, and bands of which nothing is heard")
    ask.add_argument("--keep", type=int, action="append", default=[], help="write the weights after so many steps as well, in half "
                     "precision; may be given several times")
    ask.add_argument("--report", type=int, default=100)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("out", type=Path)
    train(ask.parse_args())


if __name__ == "__main__":
    main()
