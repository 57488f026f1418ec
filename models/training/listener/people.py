"""Packs recordings of people into reels.

    python -m listener.people FOLDER... REELS [--dictionary WORDS]

Each FOLDER has a manifest.tsv with a head line and the columns file, text, source, and speaker if that is known. Recordings
may be of any format and rate that libsndfile reads. `--dictionary` writes how words of these texts are pronounced that the
lexicon lacks, by the CMU Pronouncing Dictionary: `listener.train --dictionary` reads it. An utterance with a word that neither
has is left out of the training.
"""

import argparse
import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from . import reels
from .texts import read_lexicon

A_REEL = 700
# Words of recorded texts that the CMU dictionary lacks.
OWN = {"rubout": ["R AH B AW T"]}


def source_of(row):
    """Source and speaker as a reel has them: training weighs by both. A speaker is nobody (`-`) where none is named."""
    return f"{'_'.join(row['source'].split())} {'_'.join((row.get('speaker') or '-').split())}"


def dictionary(words, known, cmu):
    """word -> pronunciations of those `words` that `known` lacks. A single letter is said by its name, which is how `cmu` has
    it; of a word in 's that is missing, the word is looked up and the ending added as it is said after that sound."""
    found = {}
    for word in sorted(words - known.keys()):
        ways = [way.split() for way in OWN.get(word, ())] or cmu.get(word)
        if not ways and word.endswith("'s"):
            ending = lambda last: ["IH", "Z"] if last in ("S", "Z", "SH", "ZH", "CH", "JH") else ["S"] if last in ("P", "T", "K", "F", "TH") else ["Z"]
            ways = [[*way, *ending(way[-1])] for way in cmu.get(word[:-2], ())]
        if ways:
            found[word] = ways
    return found


def said_in(job):
    """What is said in rows of a folder, as reels have it."""
    folder, rows = job
    found = []
    for row in rows:
        sound = reels.trimmed(reels.recording(folder / row["file"]), floor=0.02, keep=0.15)
        if sound is not None:
            found.append((sound, row["text"].lower(), "people", source_of(row)))
    return found


def spoken(folder):
    """All that is said in a folder, without packing it: (sound as int16, text, kind, source)."""
    rows = reels.manifest(folder, "file", "text", "source")
    jobs = [(folder, rows[at:at + 100]) for at in range(0, len(rows), 100)]
    with ProcessPoolExecutor(mp_context=multiprocessing.get_context("spawn")) as pool:
        return [((sound * 32767).astype(np.int16), *rest) for part in pool.map(said_in, jobs) for sound, *rest in part]


def pack(job):
    """One reel of rows of a folder; the seconds in it."""
    folder, rows, out, name, compression = job
    found = said_in((folder, rows))
    reels.write(out, name, found, compression)
    return sum(len(s[0]) for s in found) / reels.RATE


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("folders", type=Path, nargs="+", metavar="folder")
    ask.add_argument("reels", type=Path)
    ask.add_argument("--lexicon", type=Path, default="../listener-en/lexicon.txt")
    ask.add_argument("--dictionary", type=Path, help="write here how words are pronounced that the lexicon lacks")
    ask.add_argument("--compression", type=float, default=reels.COMPRESSION, help="of the Opus files, from 0 (the most bits) to 1")
    ask.add_argument("--processes", type=int, default=2)
    said = ask.parse_args()
    jobs, words = [], set()
    for folder in said.folders:
        rows = reels.manifest(folder, "file", "text", "source")
        words |= {word for row in rows for word in row["text"].lower().split()}
        # Folders may have one name: `voices/train` and `train`.
        name = f"people-{folder.resolve().parent.name}-{folder.name}"
        jobs += [(folder, rows[at:at + A_REEL], said.reels, f"{name}-{at:06}", said.compression) for at in range(0, len(rows), A_REEL)]
    with ProcessPoolExecutor(said.processes) as pool:
        total = sum(pool.map(pack, jobs))
    print(f"{said.reels}: {sum(len(job[1]) for job in jobs)} recordings, {total / 3600:.2f} h")
    if said.dictionary:
        from .lexicon import from_dictionary

        found = dictionary(words, read_lexicon(said.lexicon), from_dictionary())
        said.dictionary.write_text("".join(f"{word} {' '.join(way)}\n" for word, ways in found.items() for way in ways))
        print(f"{said.dictionary}: {len(found)} words more")


if __name__ == "__main__":
    main()
