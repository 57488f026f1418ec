"""Reels: speech packed as a few long Opus files, each with a table of what is said where.

`NAME.opus` is mono at 16 kHz; `NAME.tsv` has a line for each utterance: first sample, one past the last, text, kind,
source. A few large files travel and load faster than ten thousand small ones.
"""

import csv
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import soundfile

RATE = 16000
# Of libsndfile's Opus encoder: 0 is the most bits, 1 the fewest. Measured: 0.93 gives about 22 kbit/s.
COMPRESSION = 0.93


def at_rate(sound, rate):
    """Resampled to 16 kHz (polyphase)."""
    from scipy.signal import resample_poly

    if rate == RATE:
        return np.asarray(sound, np.float32)
    common = np.gcd(rate, RATE)
    return resample_poly(sound, RATE // common, rate // common).astype(np.float32)


def recording(path):
    """The first channel of a recording of any rate, at 16 kHz."""
    sound, rate = soundfile.read(path, dtype="float32", always_2d=True)
    return at_rate(sound[:, 0], rate)


def manifest(folder, *columns):
    """The rows of a folder's manifest.tsv as dicts. Raises SystemExit if it lacks a column."""
    path = Path(folder) / "manifest.tsv"
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE))
    if not rows or not set(columns) <= set(rows[0]):
        raise SystemExit(f"{path}: columns {', '.join(columns)} are needed")
    return rows


def trimmed(sound, floor=0.01, keep=0.06):
    """Without the silence at both ends, but for `keep` seconds; scaled to a peak of 0.7. None if nothing is heard."""
    peak = np.abs(sound).max(initial=0)
    if peak < 1e-4:
        return None
    loud = np.flatnonzero(np.abs(sound) > floor * peak)
    edge = int(keep * RATE)
    return sound[max(0, loud[0] - edge):loud[-1] + edge] * (0.7 / peak)


def write(folder, name, utterances, compression=COMPRESSION):
    """`utterances`: (sound at 16 kHz, text, kind, source). Sounds are joined with 50 ms of silence between."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    gap, parts, rows, at = np.zeros(RATE // 20, np.float32), [], [], 0
    for sound, text, kind, source in utterances:
        rows.append(f"{at}\t{at + len(sound)}\t{text}\t{kind}\t{source}\n")
        parts += [sound, gap]
        at += len(sound) + len(gap)
    soundfile.write(folder / f"{name}.opus", np.concatenate(parts), RATE, format="OGG", subtype="OPUS",
                    compression_level=compression)
    (folder / f"{name}.tsv").write_text("".join(rows))


def read(folder):
    """All utterances of a folder's reels: (sound as int16, text, kind, source)."""
    found = []
    tables = sorted(Path(folder).glob("*.tsv"))
    with ThreadPoolExecutor() as pool:
        sounds = pool.map(lambda table: soundfile.read(table.with_suffix(".opus"), dtype="int16"), tables)
    for table, (sound, rate) in zip(tables, sounds):
        if rate != RATE:
            raise SystemExit(f"{table.with_suffix('.opus')}: {rate} Hz; a reel is 16000 Hz")
        for row in table.read_text().splitlines():
            start, end, text, kind, source = row.split("\t")
            found.append((sound[int(start):int(end)], text, kind, source))
    return found
