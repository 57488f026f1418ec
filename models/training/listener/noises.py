"""Noises for training: of many kinds, drawn at random, and made otherwise than those of `wrenchside bench-hearing`.

Each function takes a numpy Generator and a number of samples at 16 kHz; `bank` makes one long array of them all, every
stretch at an RMS of one. Nothing here needs a recording. Who has a folder of recorded noise can give it (`recordings`,
`rooms`): then recordings stand among the made ones, and measured rooms among the made ones of `augment`.
"""

import multiprocessing
import os
import tempfile
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
from scipy.signal import lfilter, sosfilt, butter

from . import reels

RATE = 16000
# Of the stretches that are not voices, how many are recordings if there are any; and of those, how many have a made noise
# beside them, because no recording is of some tools.
RECORDED, BESIDE = 0.6, 0.3
# Recordings shorter than this are of single blows: they are strewn, not repeated one after the other.
A_BLOW = 2 * RATE
# Seconds kept of a measured room.
ROOM = 0.5


def coloured(r, n):
    """White to brown: a power of frequency between 0 and -2."""
    spectrum = np.fft.rfft(r.normal(size=n))
    spectrum *= np.maximum(np.arange(len(spectrum)), 8.0) ** (-r.uniform(0, 1.1))
    return np.fft.irfft(spectrum, n)


def band(r, n):
    """Hiss between two frequencies, swelling."""
    low = np.exp(r.uniform(np.log(100), np.log(4000)))
    sos = butter(2, [low, min(7800, low * r.uniform(1.5, 8))], "band", fs=RATE, output="sos")
    return sosfilt(sos, r.normal(size=n)) * swell(r, n, 0.5)


def swell(r, n, depth):
    """A slow gain around one."""
    points = max(2, int(n / RATE * r.uniform(0.5, 6)) + 2)
    return np.interp(np.arange(n), np.linspace(0, n, points), np.exp(r.normal(0, depth, points)))


def turning(r, n):
    """Something that turns: harmonics of a wandering speed, knocks once a turn, and its bearing's hiss."""
    speed = np.exp(r.uniform(np.log(15), np.log(400))) * swell(r, n, r.uniform(0.01, 0.2))
    phase = 2 * np.pi * np.cumsum(speed) / RATE
    tilt, sound = r.uniform(0.3, 1.6), np.zeros(n)
    for harmonic in range(1, int(r.integers(4, 40))):
        if harmonic * speed.max() < 7800:
            sound += r.exponential() * harmonic ** -tilt * np.sin(harmonic * phase + r.uniform(0, 7))
    hiss = coloured(r, n)
    hiss *= 1 + r.uniform(0, 1) * np.sin(phase * r.choice([0.5, 1, 2]))
    return sound / (sound.std() + 1e-9) + r.uniform(0.05, 1.5) * hiss / hiss.std()


def struck(r, n):
    """Metal being struck: bursts of a few decaying tones, at random or in a run."""
    sound, at = 0.01 * r.normal(size=n), r.uniform(0, 0.3) * RATE
    modes = [(np.exp(r.uniform(np.log(150), np.log(7000))), r.uniform(8, 120), r.exponential()) for _ in range(r.integers(2, 9))]
    run = r.random() < 0.4
    gap = r.uniform(0.04, 0.2) if run else r.uniform(0.2, 1.2)
    while at < n:
        length = int(min(n - at, 0.4 * RATE))
        t = np.arange(length) / RATE
        hit = sum(a * np.exp(-d * t) * np.sin(2 * np.pi * f * r.uniform(0.99, 1.01) * t) for f, d, a in modes)
        hit = hit + r.uniform(0, 2) * np.exp(-150 * t) * r.normal(size=length)
        sound[int(at):int(at) + length] += hit * r.uniform(0.3, 1)
        at += gap * r.uniform(0.9, 1.1) * RATE if run else gap * r.exponential() * RATE + 400
    return sound


def cutting(r, n):
    """A disc or a saw on metal: loud bands that come and go, over a motor."""
    sound = 0.4 * turning(r, n)
    for _ in range(r.integers(1, 4)):
        f = r.uniform(900, 6500)
        sos = butter(1, [f * 0.9, min(7900, f * 1.15)], "band", fs=RATE, output="sos")
        piece = sosfilt(sos, r.normal(size=n))
        sound = sound + r.uniform(0.5, 2) * piece / piece.std() * swell(r, n, 1.0)
    return sound


def air(r, n):
    """Compressed air let out: bursts of bright noise with a whistle, and silence between."""
    gate = np.repeat(r.random(n // 1600 + 1) < r.uniform(0.2, 0.8), 1600)[:n].astype(float)
    gate = lfilter([0.004], [1, -0.996], gate)
    noise = lfilter([1, -r.uniform(0.3, 0.95)], [1], r.normal(size=n))
    whistle = np.sin(2 * np.pi * np.cumsum(r.uniform(1500, 6000) * swell(r, n, 0.05)) / RATE)
    return gate * (noise + r.uniform(0, 0.6) * whistle) + 0.01 * r.normal(size=n)


def tune(r, n):
    """Something like music: chords of plucked and held tones over a beat."""
    sound, beat = np.zeros(n), int(RATE * r.uniform(0.2, 0.7))
    root = r.uniform(80, 250)
    for at in range(0, n, beat):
        length = min(n - at, int(beat * r.uniform(1, 2)))
        t = np.arange(length) / RATE
        for semitone in r.choice([0, 2, 4, 5, 7, 9, 11, 12, 16, 19], r.integers(1, 5)):
            f = root * 2 ** (semitone / 12)
            shape = np.exp(-r.uniform(0.5, 6) * t)
            sound[at:at + length] += shape * sum(np.sin(2 * np.pi * f * h * t) / h ** 1.3 for h in range(1, 7) if f * h < 7900)
        knock = min(n - at, 1200)
        sound[at:at + knock] += r.uniform(0, 2) * np.exp(-np.arange(knock) / 200) * r.normal(size=knock)
    return sound


def rattle(r, n):
    """Tools and bolts dropped or stirred: very many small strikes."""
    clicks = (r.random(n) < r.uniform(10, 200) / RATE * swell(r, n, 1.0)) * r.exponential(size=n)
    f, width = r.uniform(1500, 6000), r.uniform(0.95, 0.995)
    return lfilter([1], [1, -2 * width * np.cos(2 * np.pi * f / RATE), width ** 2], clicks) + 0.005 * r.normal(size=n)


KINDS = [coloured, band, turning, turning, struck, struck, cutting, air, tune, rattle]


def babble(r, n, voices, count):
    """`count` voices over one another."""
    sound = np.zeros(n)
    for _ in range(count):
        at = int(r.integers(0, 3000))
        gain = np.exp(r.normal(0, 0.5))
        while at < n:
            voice = voices[r.integers(len(voices))].astype(np.float64)
            piece = voice[:n - at]
            sound[at:at + len(piece)] += gain * piece / (voice.std() + 1)
            at += len(piece) + int(r.integers(500, 6000))
    return sound


def recorded(r, n, recordings):
    """A stretch of a recording, from anywhere in it and round again; or of blows, strewn or in a run. Every kind is heard as
    often as every other. `recordings`: [(kind, sound)]."""
    kinds = sorted({kind for kind, _ in recordings})
    kind = kinds[r.integers(len(kinds))]
    of_kind = [sound for k, sound in recordings if k == kind]
    sound, made = of_kind[r.integers(len(of_kind))].astype(np.float64), np.zeros(n)
    loud = sound.std() + 1e-9
    if len(sound) >= A_BLOW:
        # Round and round, one end faded into the next beginning.
        fade = min(RATE // 10, len(sound) // 4)
        ramp = np.linspace(0, 1, fade)
        round_ = sound[:-fade].copy()
        round_[:fade] = round_[:fade] * ramp + sound[-fade:] * (1 - ramp)
        return np.resize(np.roll(round_, -int(r.integers(len(round_)))), n) / loud * swell(r, n, 0.2)
    run = r.random() < 0.5
    gap = len(sound) * r.uniform(0.6, 1.3) if run else RATE * r.uniform(0.3, 2.5)
    at = int(r.uniform(0, 0.5) * RATE)
    while at < n:
        piece = sound[:n - at] * np.exp(r.normal(0, 0.2 if run else 0.6)) / loud
        made[at:at + len(piece)] += piece
        at += int(gap * r.uniform(0.85, 1.15) if run else gap * r.exponential()) + 400
    # Between blows nothing is quite silent.
    return made + 0.003 * made.std() * coloured(r, n)


def recordings(folder):
    """[(kind, sound)] of the part `train` of a folder of recorded noise, whose manifest.tsv has the columns file and kind. The
    other parts are for measuring and stay out."""
    rows = [row for row in reels.manifest(folder, "file", "kind") if row["file"].startswith("train/")]
    if not rows:
        raise SystemExit(f"{folder}: no recording in its part train")
    return [(row["kind"], reels.recording(Path(folder) / row["file"])) for row in rows]


def rooms(folder):
    """Measured responses [count, samples] of the same folder's `rir/train`: of rooms and of small loudspeakers. Each begins
    with the sound that comes straight, at an energy of one."""
    found = []
    for row in reels.manifest(folder, "file", "kind"):
        if not row["file"].startswith("rir/train/"):
            continue
        sound = reels.recording(Path(folder) / row["file"])
        straight = max(0, int(np.abs(sound).argmax()) - 16)
        kept = np.zeros(int(ROOM * RATE), np.float32)
        piece = sound[straight:straight + len(kept)]
        kept[:len(piece)] = piece
        kept[-RATE // 10:] *= np.linspace(1, 0, RATE // 10, dtype=np.float32)
        found.append(kept / np.sqrt((kept[:64] ** 2).sum() + 1e-9))
    return np.array(found, np.float32).reshape(-1, int(ROOM * RATE))


def stretch_of(seed, number, voices, length, real=()):
    """One stretch of a bank, float16 at an RMS of one."""
    r = np.random.default_rng([seed, number])
    if number % 3 == 0 and voices:
        sound = babble(r, length, voices, int(r.choice([1, 1, 1, 2, 4, 8])))
    elif real and r.random() < RECORDED:
        sound = recorded(r, length, real)
        if r.random() < BESIDE:
            beside = KINDS[r.integers(len(KINDS))](r, length)
            sound = sound / (sound.std() + 1e-9) + r.uniform(0.1, 1) * beside / (beside.std() + 1e-9)
    else:
        sound = KINDS[r.integers(len(KINDS))](r, length)
        if r.random() < 0.3:
            sound = sound / sound.std() + r.uniform(0.2, 1) * (lambda x: x / x.std())(KINDS[r.integers(len(KINDS))](r, length))
    return (sound / (sound.std() + 1e-9)).astype(np.float16)


VOICES, REAL = [], []  # of a process that makes stretches


def _load(path, ends, real):
    VOICES[:], REAL[:] = np.split(np.load(path, mmap_mode="r"), ends)[:-1], real


def _make(job):
    seed, number, length = job
    return stretch_of(seed, number, VOICES, length, REAL)


def bank(seed, minutes, voices, stretch=12 * RATE, processes=None, real=()):
    """`minutes` of noise as one float16 array; a third of it is babble of 1 to 8 of the `voices` (int16 arrays). `real` are
    recordings to have among the rest.

    The same for the same seed, whatever the number of processes (as many as there are cores; 1: this one alone).
    """
    numbers = range(int(minutes * 60 * RATE / stretch))
    processes = min(processes or os.cpu_count(), len(numbers) // 20)
    if processes < 2:
        return np.concatenate([stretch_of(seed, n, voices, stretch, real) for n in numbers])
    # Spawned, because a process that has threads of JAX is not to be forked; the voices go through a file.
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "voices.npy")
        np.save(path, np.concatenate(voices) if voices else np.zeros(0, np.int16))
        # Where voices end; what is split off after the last is empty.
        ends = np.cumsum([len(v) for v in voices])
        with ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"), _load, (path, ends, real)) as pool:
            return np.concatenate(list(pool.map(_make, [(seed, n, stretch) for n in numbers], chunksize=4)))
