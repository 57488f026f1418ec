"""People: what a reel keeps of them, how their words are pronounced, how often each is heard."""


import numpy as np
import pytest
import soundfile

from listener import noises, people, reels, train


def test_a_reel_keeps_who_speaks(tmp_path):
    folder = tmp_path / "clips"
    folder.mkdir()
    chance = np.random.default_rng(1)
    for name, rate in (("a.flac", 8000), ("b.wav", 44100)):
        soundfile.write(folder / name, 0.2 * chance.normal(size=rate), rate)
    (folder / "manifest.tsv").write_text('file\ttext\tspeaker\tsource\na.flac\tNext step\tsome one\tx/y\nb.wav\t"go" back\t\tz\n')
    rows = reels.manifest(folder, "file", "text", "source")
    for row, source in zip(rows, ("x/y some_one", "z -")):
        assert people.source_of(row) == source
    seconds = people.pack((folder, rows, tmp_path / "reels", "one", 0.9))
    found = reels.read(tmp_path / "reels")
    assert [row[1:] for row in found] == [("next step", "people", "x/y some_one"), ('"go" back', "people", "z -")]
    assert abs(seconds - 2) < 0.01 and all(abs(len(row[0]) - reels.RATE) < 200 for row in found)


def test_a_manifest_without_a_column_is_an_error_that_names_them(tmp_path):
    (tmp_path / "manifest.tsv").write_text("file\ttext\na.flac\tnext\n")
    with pytest.raises(SystemExit, match="file, text, source"):
        reels.manifest(tmp_path, "file", "text", "source")


def test_words_that_the_lexicon_lacks_are_said_as_the_dictionary_has_them():
    cmu = {"w": ["D AH B AH L Y UW".split()], "coach": ["K OW CH".split()], "pat": ["P AE T".split()], "five": ["X".split()]}
    found = people.dictionary({"w", "coach's", "pat's", "five", "blorptight", "rubout"}, {"five": []}, cmu)
    assert found == {"w": cmu["w"], "coach's": [["K", "OW", "CH", "IH", "Z"]], "pat's": [["P", "AE", "T", "S"]],
                     "rubout": [["R", "AH", "B", "AW", "T"]]}


def row(at, kind, source, text="one"):
    return (at, 16000, text, kind, source, 2.2)


def test_nobody_is_heard_as_often_as_there_are_recordings():
    rows = [row(n, "people", f"sc {'talkative' if n < 90 else 'quiet'}") for n in range(92)]
    rows += [row(n, "command", "espeak-ng made-1 en-us") for n in range(92, 192)]
    weights = train.weights_of(rows)
    of = lambda name: sum(w for r, w in weights.items() if r[4].endswith(name))
    assert of("talkative") == pytest.approx(train.OF_A_SPEAKER) and of("quiet") == pytest.approx(2)
    weights = train.weights_of(rows, people=0.6)
    by_people = sum(w for r, w in weights.items() if r[3] == "people")
    assert by_people / sum(weights.values()) == pytest.approx(0.6) and of("talkative") == pytest.approx(4 * of("quiet"))
    with pytest.raises(SystemExit, match="share"):
        train.weights_of(rows[:92], people=0.5)


def test_who_is_kept_out_is_not_trained_on():
    chance = np.random.default_rng(2)
    sound = lambda: (chance.normal(size=16000) * 3000).astype(np.int16)
    utterances = [(sound(), "one", "people", f"sc p{n % 40}") for n in range(120)]
    utterances += [(sound(), "two", "command", "espeak-ng made-1 en-us") for _ in range(40)]
    utterances += [(sound(), "three", "people", "pico -") for _ in range(10)]
    lexicon = {"one": ["W AH N".split()], "two": ["T UW".split()], "three": ["TH R IY".split()]}
    corpus = train.Corpus(utterances, lexicon, {"one"}, 1, {2.2: 4}, 1, 0.5)
    strangers = {train.speaker_of(r) for r in corpus.kept_out["strangers"]}
    trained = {train.speaker_of(r) for rows in corpus.rows.values() for r in rows}
    assert len(strangers) == 2 and not strangers & trained and len(corpus.kept_out["strangers"]) == 6
    assert {r[4] for r in corpus.kept_out["others"]} <= {"espeak-ng made-1 en-us", "pico -"} and len(corpus.kept_out["others"]) == 5
    # Every utterance is at one place.
    assert sum(map(len, corpus.rows.values())) == 170 - 6 - 5


@pytest.fixture
def recorded(tmp_path):
    chance = np.random.default_rng(3)
    rows = ["file\tkind"]
    for name, kind, seconds, rate in (("train/hum.flac", "engine", 3, 16000), ("train/hit.wav", "hammer", 0.3, 22050),
                                      ("held/other.flac", "engine", 3, 16000), ("rir/train/hall.wav", "rir", 1.2, 16000),
                                      ("rir/held/box.wav", "rir", 0.2, 16000)):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        count = int(seconds * rate)
        sound = 0.1 * chance.normal(size=count) * np.exp(-np.arange(count) / count * 8)
        sound[rate // 50] = 0.9
        soundfile.write(tmp_path / name, sound, rate)
        rows.append(f"{name}\t{kind}")
    (tmp_path / "manifest.tsv").write_text("\n".join(rows) + "\n")
    return tmp_path


def test_recorded_noise_of_the_training_part_goes_into_the_bank(recorded):
    real = noises.recordings(recorded)
    assert sorted(kind for kind, _ in real) == ["engine", "hammer"]
    for seed in range(20):
        made = noises.recorded(np.random.default_rng(seed), 40000, real)
        assert made.shape == (40000,) and np.isfinite(made).all() and made.std() > 0
    with_them, without = noises.bank(5, 5, [], real=real, processes=1), noises.bank(5, 5, [], processes=1)
    assert with_them.shape == without.shape and not (with_them == without).all()
    assert (noises.bank(5, 5, [], real=real, processes=2) == with_them).all()


def test_a_measured_room_begins_with_the_straight_sound(recorded):
    rooms = noises.rooms(recorded)
    assert rooms.shape == (1, int(noises.ROOM * noises.RATE))
    assert np.abs(rooms[0]).argmax() == 16 and (rooms[0, :64] ** 2).sum() == pytest.approx(1, abs=1e-3)
    assert rooms[0, -1] == 0


def test_a_folder_without_recordings_for_training_is_an_error(tmp_path):
    (tmp_path / "manifest.tsv").write_text("file\tkind\nheld/a.flac\tengine\n")
    with pytest.raises(SystemExit, match="no recording"):
        noises.recordings(tmp_path)


def test_kept_weights_in_half_precision_are_nearly_the_same(tmp_path):
    from listener import network

    parameters, fixed = network.random(96, 24)
    train.write_weights(tmp_path / "half.npz", parameters, fixed, half=True)
    again, other = train.read_weights(tmp_path / "half.npz")
    assert all(np.allclose(again[layer][name], value, rtol=1e-3, atol=1e-6) for layer, of in parameters.items() for name, value in of.items())
    assert all(np.array_equal(x, y) for layer in fixed for x, y in zip(fixed[layer], other[layer]))
