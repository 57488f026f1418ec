"""Phrases as single words of the graph."""

from pathlib import Path

from listener import graph, joined
from listener.phones import POSITIONED_ID, in_word
from listener.texts import read_language

LEXICON = {"go": [["G", "OW"]], "back": [["B", "AE", "K"]], "the": [["DH", "AH"], ["DH", "IY"]], "a": [["AH"]]}


def test_pieces_are_what_phrases_have_between_their_slots():
    language = read_language(Path(__file__).parents[3] / "src" / "dialogue" / "languages" / "en.toml")
    pieces = joined.pieces(language)
    for piece in ("previous step", "go to step", "thirty eight", "one hundred and", "a hundred and", "point five", "newton metres"):
        assert piece in pieces
    assert not any("{" in piece or " " not in piece or piece != piece.strip() for piece in pieces)


def test_a_joined_word_is_pronounced_in_every_way_with_a_pause_between_its_parts():
    found = joined.pronounced(["go back", "the back", "go home"], LEXICON)
    assert found == {"go_back": [["G", "OW", "|", "B", "AE", "K"]],
                     "the_back": [["DH", "AH", "|", "B", "AE", "K"], ["DH", "IY", "|", "B", "AE", "K"]]}
    assert joined.broken_off({"go_a": [["G", "OW", "|", "AH"]]}) == {"go_a~": [["G", "OW", "|"]]}


def test_whole_or_broken_off_they_differ_in_the_last_phone_alone():
    spoken = graph.pronunciations(LEXICON, joined.pronounced(["go back"], LEXICON))
    ways = {word: (phones, cost) for word, phones, cost in spoken}
    (whole, none), (broken, some) = ways["go_back"], ways["go_back~"]
    assert whole[:-1] == broken[:-1] and whole[2] == graph.MAY_PAUSE and none == 0 < some
    assert broken[-1] == POSITIONED_ID["SPN_E"] and whole[-1] == POSITIONED_ID[in_word(["G", "OW", "B", "AE", "K"])[-1]]


def test_no_two_words_are_said_alike_with_the_same_symbol():
    spoken = graph.pronunciations(LEXICON, joined.pronounced(["go back", "go back the", "the back"], LEXICON))
    found = [(tuple(p for p in phones if p), number) for _, phones, _, number in graph.disambiguated(spoken)[0]]
    assert len(found) == len(set(found))


def test_a_grammar_has_the_longest_pieces_and_what_is_heard_with_it_is_words_again():
    words = {"go", "go_back", "go_back~", "go_to", "go_to~", "go_to_step", "go_to_step~", "lonely_word"}
    lines = joined.grammar(["go back", "go to step one", "go on", "lonely word"], words)
    assert lines == ["go_back", "go_to_step one", "go on", "lonely word", "back", "go", "go_back~", "go_to_step~", "step", "to"]
    assert joined.spoken("go_to_step one") == "go to step one" and joined.spoken("go_back~ one") == "[unk] one"
