"""Packs recordings of people into reels.

    python -m listener.people FOLDER REELS

FOLDER has a manifest.tsv with a head line and the columns file, text, source. Recordings may be of any format and rate
that libsndfile reads.
"""

import argparse
import csv
from pathlib import Path

import soundfile

from . import reels

A_REEL = 500


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("folder", type=Path)
    ask.add_argument("reels", type=Path)
    said = ask.parse_args()
    with (said.folder / "manifest.tsv").open(newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t"))
    if not rows or not {"file", "text", "source"} <= set(rows[0]):
        raise SystemExit(f"{said.folder / 'manifest.tsv'}: columns file, text and source are needed")
    total = 0
    for at in range(0, len(rows), A_REEL):
        spoken = []
        for row in rows[at:at + A_REEL]:
            sound, rate = soundfile.read(said.folder / row["file"], dtype="float32", always_2d=True)
            sound = reels.trimmed(reels.at_rate(sound[:, 0], rate), floor=0.02, keep=0.15)
            if sound is not None:
                spoken.append((sound, row["text"].lower(), "people", row["source"]))
        reels.write(said.reels, f"people-{at:06}", spoken)
        total += sum(len(s[0]) for s in spoken) / reels.RATE
    print(f"{said.reels}: {len(rows)} recordings, {total / 3600:.2f} h")


if __name__ == "__main__":
    main()
