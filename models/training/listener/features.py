"""MFCC as Kaldi computes them, in JAX, so that they are made on the device that trains.

Settings are those of `conf/mfcc.conf`: 40 mel bins from 20 to 7600 Hz, 40 cepstra, no energy. Formulas: Kaldi's
feat/feature-window, feature-mfcc and mel-computations; `tests/test_features.py` compares with kaldi-native-fbank.
"""

import jax
import jax.numpy as jnp
import numpy as np

RATE, FRAME, SHIFT, FFT = 16000, 400, 160, 512
CEPSTRA = BINS = 40
LOW, HIGH = 20.0, 7600.0
EXACT = jax.lax.Precision.HIGHEST


def povey_window():
    n = np.arange(FRAME)
    return ((0.5 - 0.5 * np.cos(2 * np.pi * n / (FRAME - 1))) ** 0.85).astype(np.float32)


def mel_banks(throat=1.0):
    """[bins, FFT/2]: triangles evenly spaced in mel, 1127 ln(1 + f / 700).

    With `throat` other than one, those that hear a voice as if its vocal tract were so many times as long: frequencies are
    multiplied by it up to near the top, and bent from there so that the top stays where it is.
    """
    mel = lambda f: 1127.0 * np.log1p(np.asarray(f) / 700.0)
    step = (mel(HIGH) - mel(LOW)) / (BINS + 1)
    hertz = np.arange(FFT // 2) * RATE / FFT
    bend = 0.8 * HIGH / max(throat, 1.0)
    of_bin = mel(np.interp(hertz, [0, bend, HIGH, RATE / 2], [0, bend / throat, HIGH, RATE / 2]))
    left = mel(LOW) + step * np.arange(BINS)[:, None]
    up, down = (of_bin - left) / step, (left + 2 * step - of_bin) / step
    return np.maximum(0, np.minimum(up, down)).astype(np.float32)


def cosines():
    """[cepstra, bins]: orthonormal DCT-II, liftered (22)."""
    k, n = np.arange(CEPSTRA)[:, None], np.arange(BINS)[None]
    table = np.sqrt(2 / BINS) * np.cos(np.pi / BINS * (n + 0.5) * k)
    table[0] = np.sqrt(1 / BINS)
    return ((1 + 11 * np.sin(np.pi * k / 22)) * table).astype(np.float32)


WINDOW, BANKS, COSINES = povey_window(), mel_banks(), cosines()
# Shorter and longer throats than those that speak, [., bins, FFT/2]; between them lies every grown person's and a child's.
THROATS = np.stack([mel_banks(throat) for throat in np.geomspace(1 / 1.22, 1.22, 13)])


def frames_in(samples):
    """Whole frames that fit."""
    return (samples - FRAME) // SHIFT + 1


def mfcc(sound, banks=BANKS, deaf=None):
    """[..., samples] in the range of 16-bit integers -> [..., frames, 40]. `banks` may be other ones for each of the first axis.
    Of the bins where `deaf` [..., 40] is true nothing is heard but how loud they are throughout."""
    count = frames_in(sound.shape[-1])
    at = np.arange(count)[:, None] * SHIFT + np.arange(FRAME)[None]
    frames = sound[..., at]
    frames = frames - frames.mean(-1, keepdims=True)
    before = jnp.concatenate([frames[..., :1], frames[..., :-1]], -1)
    frames = (frames - 0.97 * before) * WINDOW
    power = jnp.abs(jnp.fft.rfft(frames, FFT)) ** 2
    mel = jnp.matmul(power[..., :FFT // 2], jnp.swapaxes(jnp.asarray(banks), -1, -2), precision=EXACT)
    loud = jnp.log(jnp.maximum(mel, 1.1920929e-07))
    if deaf is not None:
        loud = jnp.where(deaf[..., None, :], loud.mean(-2, keepdims=True), loud)
    return jnp.matmul(loud, COSINES.T, precision=EXACT)
