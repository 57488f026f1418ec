import jax
import jax.numpy as jnp
import numpy as np

from listener import augment, features, noises


def hum(pitch, seconds=1.0):
    """Something like a vowel: a pulse train through two resonances; quiet before and after."""
    count = int(seconds * features.RATE)
    turns = np.floor(np.arange(count) * pitch / features.RATE)
    spectrum = np.fft.rfft(np.diff(turns, prepend=0))
    hertz = np.fft.rfftfreq(count, 1 / features.RATE)
    shape = sum(1 / (1 + ((hertz - at) / 90) ** 2) for at in (600, 1700))
    sound = np.fft.irfft(spectrum * shape, count)
    return np.pad(sound / np.abs(sound).max() * 8000, 4000).astype(np.float32)


def test_revoiced_it_has_the_shape_of_the_words_and_another_pitch():
    sound = hum(131)
    for seed in range(4):
        again = np.asarray(augment.revoiced(jax.random.key(seed), sound))
        assert again.shape == sound.shape and np.isfinite(again).all()
        loud, faint = np.abs(again[6000:-6000]).mean(), np.abs(again[:3000]).mean()
        assert faint < loud / 30
        power = lambda x: np.abs(np.fft.rfft(x[6000:14192] * np.hanning(8192))) ** 2
        hertz = np.fft.rfftfreq(8192, 1 / features.RATE)
        near = lambda x, at: power(x)[np.abs(hertz - at) < 150].mean()
        for at in (600, 1700):
            assert near(again, at) > 5 * near(again, 1150)
        # The first harmonics of the old pitch are not what is left.
        beat = lambda x: power(x)[np.abs(hertz - 131 * 5) < 4].max() / near(x, 131 * 5)
        assert beat(again) < beat(sound) / 2


def test_silence_of_zeros_stays_a_number():
    assert np.isfinite(np.asarray(augment.revoiced(jax.random.key(0), np.zeros(8000, np.float32)))).all()


def test_a_bank_of_noise_is_the_same_by_one_process_and_by_two():
    chance = np.random.default_rng(0)
    voices = [(chance.normal(size=chance.integers(9000, 30000)) * 3000).astype(np.int16) for _ in range(7)]
    alone, together = (noises.bank(5, 9, voices, processes=n) for n in (1, 2))
    assert len(alone) == 9 * 60 * noises.RATE and (alone == together).all()
    assert (noises.bank(5, 9, [], processes=2) == noises.bank(5, 9, [], processes=1)).all()
    assert not (noises.bank(6, 9, voices, processes=1) == alone).all()
    loud = alone.astype(np.float32).reshape(-1, 12 * noises.RATE).std(1)
    assert np.isfinite(alone).all() and (abs(loud - 1) < 0.01).all()


def test_what_is_heard_is_a_number_in_measured_rooms_too():
    sound = jnp.asarray(np.concatenate([hum(131), hum(90)]))
    noise = jnp.asarray(np.random.default_rng(1).normal(size=200_000).astype(np.float16))
    rooms = np.zeros((2, 8000), np.float32)
    rooms[:, 16], rooms[1, 400] = 1, 0.5
    starts, lengths, silent = np.array([0, 24000] * 6), np.array([24000] * 12), np.array([False] * 11 + [True])
    for among in (None, jnp.asarray(rooms)):
        heard = np.asarray(augment.batch(jax.random.key(3), sound, starts, lengths, noise, 35200, silent, among))
        assert heard.shape == (12, 35200) and np.isfinite(heard).all() and (np.abs(heard) <= 32768).all() and (heard.std(1) > 0).all()


def test_a_radio_passes_the_middle_and_little_else():
    bands = np.array([np.asarray(augment.radio(jax.random.key(n), 1024)) for n in range(60)])
    hertz = np.fft.rfftfreq(1024, 1 / features.RATE)
    narrow = bands[bands.min(1) < 0.9]
    assert 2 < len(narrow) < 25
    at = lambda f: narrow[:, np.abs(hertz - f).argmin()]
    assert (at(1000) > 0.9).all() and (at(60) < 0.1).all() and (at(6500) < 0.1).all()
