from pathlib import Path

import pytest

from listener import lexicon, reels, texts

ROOT = Path(__file__).parents[3]


def drawn():
    language = texts.read_language(ROOT / "src/dialogue/languages/en.toml")
    known = texts.read_lexicon(ROOT / "models/listener-en/lexicon.txt")
    return texts.Texts(language, known, 1), known


def test_everything_said_can_be_written_in_phones():
    source, known = drawn()
    for _ in range(2000):
        kind, text = source.draw()
        assert kind in texts.SHARES and set(text.split()) <= set(known)


def test_the_bench_s_talk_is_not_trained_on():
    bench = (ROOT / "scripts/make-hearing-set").read_text()
    for sentence in texts.lines(texts.ASIDES):
        assert sentence not in bench


def test_the_lexicon_is_what_the_vocabulary_makes():
    here = ROOT / "models/training"
    built = lexicon.build((here / "vocabulary.txt").read_text().split(), texts.read_lexicon(here / "pronunciations.txt"), lexicon.from_dictionary())
    assert built == texts.read_lexicon(ROOT / "models/listener-en/lexicon.txt")
    assert len(built) >= 5000


def test_a_word_nobody_knows_is_an_error_that_names_it():
    with pytest.raises(SystemExit, match="blorptight"):
        lexicon.build(["blorptight"], {}, {})


def test_reels_keep_what_was_said(tmp_path):
    import numpy as np

    sound = (0.3 * np.sin(np.arange(8000) / 9)).astype(np.float32)
    reels.write(tmp_path, "one", [(sound, "next step", "command", "a"), (sound[:5000], "go back", "command", "b")])
    found = reels.read(tmp_path)
    assert [(len(s), *rest) for s, *rest in found] == [(8000, "next step", "command", "a"), (5000, "go back", "command", "b")]
    assert np.corrcoef(found[0][0], sound)[0, 1] > 0.95


def test_phrases_are_denied_as_the_program_denies_them():
    forms = [{"at": ["is", "has"], "other": {"is": "isn't"}, "say": ["{before} {word} not {after}", "{word} {before} {after}", "{before} {other} {after}"]},
             {"at": ["go"], "first": True, "say": ["don't {phrase}"]}, {"but": ["back", "done"], "say": ["not {phrase}"]},
             {"of": ["yes"], "say": ["{phrase} but"]}]
    language = {"phrases": {"done": ["that one is done", "all done"], "back": ["go back"], "next": ["let it go"], "yes": ["yes"]},
                "denials": {"forms": forms}}
    assert texts.denied(language) == ["that one is not done", "is that one done", "that one isn't done", "don't go back",
                                      "not let it go", "not yes", "yes but"]
    assert texts.denied({"phrases": {"yes": ["yes"]}}) == []
