"""Decodes reels with the real libvosk and a model, phrases of the language as the grammar: right, wrong, missed.

    python -m listener.verify MODEL REELS [--most 500]

A quick look at a model while it is being made. What counts is `wrenchside bench-hearing`.
"""

import argparse
import collections
import json
import random
from pathlib import Path

import numpy as np

from . import joined, reels
from .texts import read_language


def main():
    import vosk

    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("model", type=Path)
    ask.add_argument("reels", type=Path)
    ask.add_argument("--language", type=Path, default="../../src/dialogue/languages/en.toml")
    ask.add_argument("--most", type=int, default=500)
    ask.add_argument("--free", action="store_true", help="let any word follow any, instead of whole phrases")
    said = ask.parse_args()
    vosk.SetLogLevel(-1)
    model = vosk.Model(str(said.model))
    language = read_language(said.language)
    commands = [u for u in reels.read(said.reels) if u[2] in ("command", "number")]
    commands = random.Random(1).sample(commands, min(said.most, len(commands)))
    phrases = sorted({p for ps in language["phrases"].values() for p in ps if "{" not in p} | {u[1] for u in commands})
    known = {line.split()[0] for line in (said.model / "graph" / "words.txt").read_text().splitlines()}
    grammar = [] if said.free else [json.dumps([*joined.grammar(phrases, known), "[unk]"])]
    counts, examples = collections.Counter(), []
    # A faint noise under all of it, as the program puts there: no microphone gives silence of zeros.
    faint = np.random.default_rng(1)
    quiet = np.zeros(reels.RATE // 2)
    for sound, text, _, _ in commands:
        recogniser = vosk.KaldiRecognizer(model, reels.RATE, *grammar)
        heard = []
        for piece in (quiet, sound, quiet):
            piece = piece + faint.normal(0, 4, len(piece))
            if recogniser.AcceptWaveform(np.clip(piece, -32768, 32767).astype("<i2").tobytes()):
                heard.append(json.loads(recogniser.Result())["text"])
        heard = joined.spoken(" ".join([*heard, json.loads(recogniser.FinalResult())["text"]])).split()
        words = " ".join(word for word in heard if word != "[unk]")
        found = "right" if words == text else "missed" if words not in phrases or not words else "wrong"
        counts[found] += 1
        if found != "right" and len(examples) < 12:
            examples.append(f"  {text!r} heard as {' '.join(heard)!r}")
    print("\n".join(examples))
    print(", ".join(f"{counts[k]} {k}" for k in ("right", "wrong", "missed")), "of", len(commands))


if __name__ == "__main__":
    main()
