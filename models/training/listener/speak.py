"""Speaks training texts with the synthetic voices, into reels.

    python -m listener.speak plan --count 12000 --seed 1 --language ../../src/dialogue/languages/en.toml PLAN
    python -m listener.speak say PLAN REELS [--program kokoro] [--from 0 --to 6000] [--processes 2] [--kokoro FOLDER]

A plan is a JSON line for each utterance. Saying it again goes on where it stopped: reels that are there are kept.
"""

import argparse
import json
import os
import random
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from . import reels
from .texts import Texts, read_language, read_lexicon
from .voices import PROGRAMS, utterances

A_REEL = 40


def plan(said):
    texts = Texts(read_language(said.language), read_lexicon(said.lexicon), said.seed)
    lines = [json.dumps(one, ensure_ascii=False) for one in utterances(texts, said.count, said.seed, said.program)]
    said.plan.write_text("\n".join(lines) + "\n")
    print(f"{said.plan}: {len(lines)} utterances")


def say_reel(job):
    name, program, wanted, out, home, compression = job
    voice = PROGRAMS[program](home)
    spoken = []
    for number, one in wanted:
        chance = random.Random(f"say {number} {one['text']}")
        sound = voice.speak(one["text"], one["voice"], one["accent"], one["speed"], one["ipa"], chance)
        sound = reels.trimmed(reels.at_rate(sound, voice.rate))
        if sound is not None and len(sound) < 9 * reels.RATE:
            spoken.append((sound, one["text"], one["kind"], f"{program} {one['voice']} {one['accent']}".strip()))
    reels.write(out, name, spoken, compression)
    return name, sum(len(s[0]) for s in spoken) / reels.RATE


def say(said):
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    wanted = [json.loads(line) for line in said.plan.read_text().splitlines()]
    jobs, homes = [], {"kokoro": said.kokoro, "diphone": said.diphones}
    for program in PROGRAMS:
        if said.program and program != said.program:
            continue
        mine = [(n, one) for n, one in enumerate(wanted) if one["program"] == program and said.start <= n < said.end]
        for at in range(0, len(mine), A_REEL):
            name = f"{said.plan.stem}-{program}-{mine[at][0]:06}"
            if not (said.out / f"{name}.tsv").exists():
                jobs.append((name, program, mine[at:at + A_REEL], said.out, homes.get(program), said.compression))
    began, total = time.time(), 0.0
    with ProcessPoolExecutor(said.processes) as pool:
        for number, (name, seconds) in enumerate(pool.map(say_reel, jobs), 1):
            total += seconds
            print(f"{number} of {len(jobs)}: {name}, {total / 3600:.2f} h spoken in {time.time() - began:.0f} s", flush=True)


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    what = ask.add_subparsers(required=True)
    one = what.add_parser("plan", help="draw texts and voices")
    one.add_argument("--count", type=int, required=True)
    one.add_argument("--seed", type=int, default=1)
    one.add_argument("--program", choices=PROGRAMS, help="by this one alone")
    one.add_argument("--language", type=Path, default="../../src/dialogue/languages/en.toml")
    one.add_argument("--lexicon", type=Path, default="../listener-en/lexicon.txt")
    one.add_argument("plan", type=Path)
    one.set_defaults(do=plan)
    two = what.add_parser("say", help="speak a plan")
    two.add_argument("plan", type=Path)
    two.add_argument("out", type=Path)
    two.add_argument("--program", choices=PROGRAMS)
    two.add_argument("--from", dest="start", type=int, default=0)
    two.add_argument("--to", dest="end", type=int, default=1 << 30)
    two.add_argument("--processes", type=int, default=2)
    two.add_argument("--compression", type=float, default=reels.COMPRESSION, help="of the Opus files, from 0 (the most bits) to 1")
    two.add_argument("--kokoro", type=Path, help="folder of kokoro.onnx, vocabulary.json and voices/")
    two.add_argument("--diphones", type=Path, help="folder of festival's rab_diphone and don_diphone")
    two.set_defaults(do=say)
    said = ask.parse_args()
    said.do(said)


if __name__ == "__main__":
    main()
