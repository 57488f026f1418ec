"""What the bench measures with is never trained on."""

import ast
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from listener import diphones, voices
from listener.texts import read_lexicon

BENCH = Path(__file__).parents[3] / "scripts" / "make-hearing-set"
LEXICON = Path(__file__).parents[2] / "listener-en" / "lexicon.txt"


def bench_voices():
    tree = ast.parse(BENCH.read_text())
    table = next(node.value for node in tree.body if isinstance(node, ast.Assign) and node.targets[0].id == "VOICES")
    return ast.literal_eval(table)


def test_no_variant_of_the_bench_is_trained_on():
    used = {re.sub(r"\d+$", "", v) for v in voices.ESPEAK_VARIANTS if not re.fullmatch(r"[fm]\d", v)}
    for name, _, program, how, _ in bench_voices():
        if program != "espeak-ng":
            assert program not in voices.PROGRAMS, f"{name}: {program} trains and measures"
            continue
        variant = how[1].partition("+")[2]
        assert variant not in voices.ESPEAK_VARIANTS, name
        assert not variant or re.fullmatch(r"[fm]\d", variant) or re.sub(r"\d+$", "", variant) not in used, f"{name}: a near relative trains"


def test_every_voice_drawn_has_a_variant():
    import random

    chance = random.Random(3)
    for _ in range(200):
        variant, accent, speed = voices.draw(chance, "espeak-ng")
        made = re.fullmatch(r"made-\d+", variant)
        assert (made or variant in voices.ESPEAK_VARIANTS) and accent and 0.7 < speed < 1.3


def test_nobody_of_the_bench_speaks_through_another_program():
    # `alan` and `slt` are the people of flite's awb and slt; the licences of the others do not let anybody build upon them.
    assert not {"alan", "slt", "lyubov", "evgeniy-eng"} & set(voices.RHVOICE)


def test_each_program_has_voices_of_its_own():
    import random

    chance = random.Random(4)
    drawn = {program: {voices.draw(chance, program)[0] for _ in range(60)} for program in voices.PROGRAMS}
    assert drawn["svox"] == {"pico"} and drawn["rhvoice"] == set(voices.RHVOICE)
    assert len(drawn["kokoro"]) > 20 and len(drawn["espeak-ng"]) > 20
    assert set(voices.SHARES) <= set(voices.PROGRAMS)


def test_a_made_up_voice_is_the_same_for_its_number_and_other_for_another():
    assert voices.made_up("7") == voices.made_up("7") != voices.made_up("8")
    assert "formant 8 " in voices.made_up("7")


def test_the_diphone_voices_are_not_those_of_the_bench():
    festival = {how for _, _, program, how, _ in bench_voices() if program == "festival"}
    assert festival and not any(name in str(how) for how in festival for name in diphones.VOICES)


def test_words_are_said_as_in_britain():
    said = {"torque": "t oo1 k", "rear": "r i@1", "adapter": "@0 d a1 p t @0", "hurry": "h @@1 r ii0", "four": "f oo1",
            "previous": "p r ii1 v ii0 @0 s", "fire": "f ai1 @0", "hours": "au1 @0 z", "hard": "h aa1 d"}
    known = diphones.pronunciations()
    for word, phones in said.items():
        assert " ".join(diphones.british(known[word])) == phones, word
    assert diphones.stressed("T AO R K".split()) == "T AO1 R K".split()


def test_every_word_that_is_drawn_can_be_said_by_them():
    known = diphones.pronunciations()
    vowels = {*diphones.VOWELS.values(), *diphones.UNSTRESSED.values(), *diphones.BEFORE_R.values()}
    for word in read_lexicon(LEXICON):
        phones = diphones.british(known[word])
        assert any(p[:-1] in vowels for p in phones), word


@pytest.mark.skipif(not shutil.which("festival"), reason="needs festival")
def test_festival_says_what_is_written(tmp_path):
    words = ["dr", "st", "lb", "step"]
    script = tmp_path / "words.scm"
    script.write_text(f'''{diphones.AS_WRITTEN} (set! said (Utterance Text "{' '.join(words)}"))
(Initialize said) (Text said) (Token_POS said) (Token said)
(mapcar (lambda (word) (format t "%s\\n" (item.name word))) (utt.relation.items said 'Word))''')
    said = subprocess.run(["festival", "-b", str(script)], capture_output=True, text=True, check=True, timeout=60)
    assert said.stdout.split() == words
