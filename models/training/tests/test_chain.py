"""The whole chain in little: each command of the README, down to words that the real libvosk decodes.

The network in use lends its layers, but its outputs are new: before training it knows no phone, so what is decoded after
is what the chain has taught it. A network from nothing would take hours.
"""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

TRAINING = Path(__file__).parents[1]
LANGUAGE = Path(__file__).with_name("chain.toml")
BASE = TRAINING.parent / "listener-en" / "am" / "final.mdl"


def run(module, *arguments):
    done = subprocess.run([sys.executable, "-m", f"listener.{module}", *map(str, arguments)], cwd=TRAINING, text=True,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    print(done.stdout)  # pytest shows it if the test fails
    assert done.returncode == 0, f"listener.{module} failed"
    return done.stdout


def test_the_chain_teaches_words_that_libvosk_then_decodes(tmp_path):
    words, lexicon, out = tmp_path / "words.txt", tmp_path / "lexicon.txt", tmp_path / "net"
    phrases = tomllib.loads(LANGUAGE.read_text())["phrases"].values()
    words.write_text("\n".join(word for spoken in phrases for phrase in spoken for word in phrase.split()))
    run("lexicon", "--vocabulary", words, lexicon)
    # Of another seed: nothing that is tried was trained on, and three in four of it is by voices made up anew.
    for name, count, seed in (("trained", 400, 1), ("tried", 100, 2)):
        plan = tmp_path / f"{name}.jsonl"
        run("speak", "plan", "--program", "espeak-ng", "--count", count, "--seed", seed, "--language", LANGUAGE, "--lexicon", lexicon, plan)
        run("speak", "say", plan, tmp_path / name)

    def train(steps, *how, out=out):
        # One size of batch, because each is compiled; a short average, because it is a short training.
        run("train", "--reels", tmp_path / "trained", "--lexicon", lexicon, "--language", LANGUAGE, *how, "--batch", 12,
            "--longest", 2.2, "--noise", 1, "--rate", 2e-3, "--average", 0.9, "--report", 20, "--steps", steps, out)

    def right(name, *how, out=out):
        """The part of commands that are decoded rightly."""
        model = tmp_path / f"model-{name}"
        if not model.exists():
            run("export", out / "weights.npz", model)
            run("graph", "--lexicon", lexicon, "--tools", tmp_path, model)
        found = re.search(r"(\d+) right, .* of (\d+)", run("verify", model, tmp_path / "tried", "--language", LANGUAGE, *how))
        assert int(found[2]) > 40
        return int(found[1]) / int(found[2])

    new = ("--base", BASE, "--new-outputs")
    train(0, *new)
    assert right("new") < 0.1
    assert right("new", "--free") < 0.1
    train(60, *new)  # goes on from the very weights that knew nothing
    assert right("trained") > 0.8
    assert right("trained", "--free") > 0.5
    # What was learnt is kept where outputs come to depend on the phone before.
    contexts = tmp_path / "contexts"
    train(10, "--base", out / "weights.npz", "--contexts", out=contexts)
    assert right("contexts", out=contexts) > 0.8
    assert right("contexts", "--free", out=contexts) > 0.5
