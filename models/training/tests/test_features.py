import numpy as np
import pytest

from listener import features


def test_mfcc_are_those_of_kaldi():
    knf = pytest.importorskip("kaldi_native_fbank")
    chance = np.random.default_rng(0)
    sound = (chance.normal(0, 1500, 16000) * np.hanning(16000)).astype(np.float32)
    options = knf.MfccOptions()
    options.frame_opts.dither = 0
    options.frame_opts.samp_freq = 16000
    options.mel_opts.num_bins = options.num_ceps = 40
    options.mel_opts.low_freq, options.mel_opts.high_freq = 20, 7600
    options.use_energy = False
    theirs = knf.OnlineMfcc(options)
    theirs.accept_waveform(16000, sound.tolist())
    theirs.input_finished()
    theirs = np.stack([theirs.get_frame(i) for i in range(theirs.num_frames_ready)])
    assert np.abs(np.asarray(features.mfcc(sound)) - theirs).max() < 0.01


def test_another_throat_moves_what_is_heard_along_the_frequencies():
    assert np.allclose(features.THROATS[len(features.THROATS) // 2], features.BANKS, atol=1e-6)
    loudest = lambda banks, hertz: banks[:, round(hertz / features.RATE * features.FFT)].argmax()
    for throat in (1 / 1.22, 1.22):
        banks = features.mel_banks(throat)
        assert abs(loudest(banks, 1500) - loudest(features.BANKS, 1500 / throat)) <= 1, throat
        assert loudest(banks, 1500) != loudest(features.BANKS, 1500), throat
        assert banks.any(axis=1).all(), "no band is deaf"


def test_a_band_that_is_not_heard_is_as_loud_as_ever():
    sound = np.random.default_rng(3).normal(0, 1000, (2, 8000)) * np.linspace(0.1, 1, 8000)
    deaf = np.zeros((2, features.BINS), bool)
    deaf[1, 10:16] = True
    made = np.asarray(features.mfcc(sound, deaf=deaf))
    assert np.allclose(made[0], features.mfcc(sound[0]), atol=1e-3)
    loud = np.linalg.solve(features.COSINES.astype(float), made[1].T.astype(float))
    moves = loud.std(axis=1)
    assert (moves[10:16] < 1e-2).all() and (np.delete(moves, range(10, 16)) > 0.1).all()
