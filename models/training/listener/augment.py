"""Makes a new recording of an utterance each time it is trained on: its speed, its room, its microphone, its noise.

Everything is drawn on the device, for a batch at once. Levels are in dB; frequencies in Hz; 16 kHz throughout.
"""

import jax
import jax.numpy as jnp

from .features import RATE

FULL = 32768.0
# How much of what is heard ends at 3 to 7.5 kHz, as through a cheap microphone or an old synthesiser.
NARROW = 0.25
# How much is heard as by a headset's radio or a telephone: from 200 or 400 Hz to 2.8 or 3.9 kHz, and next to nothing outside.
RADIO = 0.15
# Of what is heard in rooms, how much in a measured one, if there are any.
MEASURED = 0.4
# How many utterances have lost an edge, as clips cut to a second have; each end by itself, and up to so many seconds.
CUT, MOST_CUT = 0.15, 0.08
# How much begins with silence of zeros, as where a gate or an endpointer has opened late.
GATED = 0.06


def draw(key, low, high, shape=()):
    return jax.random.uniform(key, shape, minval=low, maxval=high)


def slowed(sound, start, length, speed, before, samples):
    """`samples` of the utterance at `start` of the flat array `sound`, `before` samples of silence first; linear."""
    at = (jnp.arange(samples) - before) * speed
    inside = (at >= 0) & (at < length - 1)
    whole = jnp.clip(at, 0, length - 2).astype(jnp.int32)
    part = jnp.clip(at, 0, length - 1) - whole
    near, far = sound[start + whole].astype(jnp.float32), sound[start + whole + 1].astype(jnp.float32)
    return jnp.where(inside, near + part * (far - near), 0.0), inside


def revoiced(key, sound, window=512):
    """The same words as a machine says them that plays one pulse after another at a pitch that hardly moves: what older
    synthesisers sound like. Envelopes by the cepstrum of each frame; hissing frames get noise instead of pulses."""
    hop, keys = window // 4, jax.random.split(key, 5)
    count = (len(sound) - window) // hop + 1
    hann = 0.5 - 0.5 * jnp.cos(2 * jnp.pi * jnp.arange(window) / window)
    spectra = lambda x: jnp.fft.rfft(x[jnp.arange(count)[:, None] * hop + jnp.arange(window)[None]] * hann)
    size = jnp.abs(spectra(sound)) + 1e-3
    quefrency = jnp.arange(window)
    # Nothing slower than 2.2 ms is kept: that would be the pitch.
    kept = jnp.minimum(quefrency, window - quefrency) < 35
    envelope = jnp.exp(jnp.fft.rfft(jnp.fft.irfft(jnp.log(size), window) * kept).real)
    band = lambda low, high: (size[:, low * window // RATE:high * window // RATE] ** 2).mean(-1)
    voiced = jax.nn.sigmoid(2 * jnp.log(band(100, 1000) / band(3000, 7000)))[:, None]
    t = jnp.arange(len(sound)) / RATE
    pitch = draw(keys[0], 75, 210) * (1 + draw(keys[1], 0, 0.05) * jnp.sin(2 * jnp.pi * draw(keys[2], 0.3, 3) * t))
    turns = jnp.floor(jnp.cumsum(pitch / RATE))
    pulses = jnp.diff(turns, prepend=0.0) * jnp.sqrt(RATE / pitch)
    noise = jax.random.normal(keys[3], (len(sound),))
    rough = draw(keys[4], 0, 0.2)
    frames = jnp.fft.irfft(envelope * (spectra(pulses) * voiced * (1 - rough) + spectra(noise) * (1 - voiced * (1 - rough))), window) * hann
    parts = [jnp.pad(frames[:, n * hop:(n + 1) * hop], ((n, 3 - n), (0, 0))) for n in range(4)]
    made = sum(parts).reshape(-1)
    return jnp.pad(made, (0, max(0, len(sound) - len(made))))[:len(sound)]


def radio(key, size):
    """The band of a headset's radio or of a telephone as a spectrum [size/2+1]; of one, if this is not heard through any."""
    keys = jax.random.split(key, 4)
    hertz = jnp.fft.rfftfreq(size, 1 / RATE)
    low, high, steep = draw(keys[0], 150, 400), draw(keys[1], 2800, 3900), draw(keys[2], 12, 60)
    band = 1 / jnp.sqrt((1 + (low / jnp.maximum(hertz, 1)) ** 6) * (1 + jnp.minimum(hertz / high, 3.0) ** steep))
    return jnp.where(draw(keys[3], 0, 1) < RADIO, band, 1.0)


def response(key, size, rooms=None):
    """A microphone and a room as a spectrum [size/2+1]: smooth gain, edges of the band, an exponential tail or, now and then,
    one of the measured `rooms` [count, samples]."""
    keys = jax.random.split(key, 9)
    hertz = jnp.fft.rfftfreq(size, 1 / RATE)
    octave = jnp.log2(jnp.maximum(hertz, 30.0) / 1000)
    waves = draw(keys[0], -1, 1, (3,)) * jnp.array([5.0, 3.0, 2.0])
    gain = sum(w * jnp.sin(octave * (0.4 + 0.5 * n) + draw(jax.random.fold_in(keys[1], n), 0, 6.3)) for n, w in enumerate(waves))
    gain += draw(keys[2], -3, 3) * octave
    low, high = draw(keys[3], 20, 300), jnp.where(draw(keys[4], 0, 1) < NARROW, draw(keys[5], 3000, 7500), 9000)
    edge = 1 / jnp.sqrt((1 + (low / jnp.maximum(hertz, 1)) ** 4) * (1 + (hertz / high) ** 8))
    length = int(0.5 * RATE)
    t = jnp.arange(length) / RATE
    tail = jax.random.normal(keys[6], (length,)) * jnp.exp(-6.9 * t / draw(keys[7], 0.1, 0.6))
    kept = jnp.where(draw(keys[8], 0, 1) < 0.6, 10 ** (draw(jax.random.fold_in(keys[8], 1), -25, 1) / 20), 0.0)
    tail = (kept * tail / jnp.sqrt((tail ** 2).sum())).at[0].add(1.0)
    if rooms is not None:
        again = jax.random.split(jax.random.fold_in(key, 9), 3)
        measured = rooms[jax.random.randint(again[0], (), 0, len(rooms))]
        # Nearer to the microphone than it was measured: all after the first 4 ms is fainter.
        near = 10 ** (draw(again[1], -15, 0) / 20)
        measured = measured * jnp.where(jnp.arange(measured.shape[0]) < 64, 1.0, near)
        measured = jnp.pad(measured, (0, max(0, length - len(measured))))[:length]
        tail = jnp.where(draw(again[2], 0, 1) < MEASURED, measured, tail)
    room = jnp.fft.rfft(tail, size)
    return 10 ** (gain / 20) * edge * room


def one(key, sound, start, length, noise, samples, silent, rooms=None):
    """One utterance -> [samples] in the range of 16-bit integers. `silent`: only its noise."""
    keys = jax.random.split(key, 14)
    edges = jax.random.split(jax.random.fold_in(key, 14), 4)
    lost = [jnp.where(draw(edges[n], 0, 1) < CUT, draw(edges[n + 2], 0, jnp.minimum(MOST_CUT * RATE, 0.12 * length)), 0.0).astype(jnp.int32)
            for n in range(2)]
    start, length = start + lost[0], length - lost[0] - lost[1]
    speed = draw(keys[0], 0.88, 1.15)
    spare = samples - length / speed
    before = jnp.clip(draw(keys[1], 0.03, 0.9) * RATE, 0, jnp.maximum(0.5 * spare, 0))
    voice, inside = slowed(sound, start, length, speed, before, samples)
    again = jax.random.fold_in(keys[2], 2)
    voice = jnp.where(draw(again, 0, 1) < 0.12, revoiced(again, voice), voice)
    voice = jnp.where(silent, 0.0, voice)
    size = 1 << (samples + RATE // 2).bit_length()
    through = lambda x, k: jnp.fft.irfft(jnp.fft.rfft(x, size) * response(k, size, rooms), size)[:samples]
    voice = through(voice, keys[2])
    power = (voice ** 2 * inside).sum() / jnp.maximum(inside.sum(), 1)
    voice = voice / jnp.sqrt(jnp.where(silent, 1.0, power + 1e-9))

    def stretch(k):
        # Faster or slower than it was made: one bank has more machines in it so.
        faster = jnp.exp(draw(jax.random.fold_in(k, 2), -0.35, 0.35))
        longest = int(1.5 * samples) + 1
        at = jax.random.randint(k, (), 0, noise.shape[0] - longest)
        places = jnp.arange(samples) * faster
        whole = places.astype(jnp.int32)
        part = places - whole
        piece = jax.lax.dynamic_slice(noise, (at,), (longest,)).astype(jnp.float32)
        x = piece[whole] * (1 - part) + piece[whole + 1] * part
        x = through(x, jax.random.fold_in(k, 1))
        return x / jnp.sqrt((x ** 2).mean() + 1e-9)

    heard = stretch(keys[3]) + jnp.where(draw(keys[4], 0, 1) < 0.3, draw(keys[5], 0, 1), 0.0) * stretch(keys[6])
    ratio = jnp.where(draw(keys[7], 0, 1) < 0.55, draw(keys[8], -1, 27), draw(keys[9], 27, 90))
    mixed = voice + 10 ** (-ratio / 20) * heard
    # A faint floor of its own, as every microphone has; but some sound has silence of zeros around it, or a floor
    # that is next to nothing.
    floor = 10 ** (draw(keys[10], -95, -45) / 20) * jax.random.normal(keys[11], (samples,))
    mixed = jnp.where(draw(jax.random.fold_in(keys[10], 1), 0, 1) < 0.06, jnp.where(inside, voice, 0.0), mixed + floor)
    more = jax.random.split(jax.random.fold_in(key, 15), 3)
    mixed = jnp.fft.irfft(jnp.fft.rfft(mixed, size) * radio(more[0], size), size)[:samples]
    gated = (draw(more[1], 0, 1) < GATED) & (jnp.arange(samples) < before - draw(more[2], 0, 0.03) * RATE)
    mixed = jnp.where(gated, 0.0, mixed)
    level = jnp.where(silent, draw(keys[12], -60, -18), draw(keys[12], -50, -11))
    driven = jnp.where(draw(keys[13], 0, 1) < 0.05, 6.0, 1.0)
    return jnp.clip(mixed * FULL * 10 ** (level / 20) * driven, -FULL, FULL - 1)


def batch(key, sound, starts, lengths, noise, samples, silent, rooms=None):
    keys = jax.random.split(key, len(starts))
    return jax.vmap(lambda k, s, n, q: one(k, sound, s, n, noise, samples, q, rooms))(keys, starts, lengths, silent)
