"""What the training voices say: the command language, numbers, talk, and words from the whole vocabulary.

Knows the language file and the vocabulary; leaves speaking to `voices`. The talk here is written for training; the
talk of `wrenchside bench-hearing` is other talk, so that the bench measures rejection on sentences never heard before.
"""

import random
import re
import tomllib
from pathlib import Path

# How much of what is said, in parts of the whole.
SHARES = {"command": 32, "number": 14, "alone": 14, "decoy": 6, "denied": 8, "talk": 14, "words": 12}

# Readings that English tells apart by stress and one nasal; said more often than other numbers.
TEENS_AND_TIES = [n + e for n in ("thir", "four", "fif", "six", "seven", "eigh", "nine") for e in ("teen", "ty")]
TEENS_AND_TIES = ["forty" if n == "fourty" else n for n in TEENS_AND_TIES]

PEOPLE = """the manager|my sister|our neighbour|the driver|a customer|the teacher|his uncle|the painter|that fellow
the lady from the office|the young man|everybody|my father|the woman upstairs|her cousin|the postman|a friend of mine"""
DEEDS = """was talking about|bought|forgot|wanted to see|could not find|is looking after|never liked|painted|brought back
had heard of|asked me for|keeps|carried|will sell|left behind|put away|has written about|should have cleaned|lent me"""
OBJECTS = """the green jacket|a box of apples|the garden chairs|his bicycle|the history of the town|a loaf of bread
some wooden boards|the kitchen window|a pair of shoes|their holiday|the long meeting|an empty bottle|the cheap paint
a new kind of glue|the piano|the yellow boat|three tickets|two bags of sand|the telephone bill|a broken chair
the measure of the room|a rusty knife|the joke about the judge|that measure of vision|pleasure and treasure"""
WHEN = """|in the evening|last summer|after the storm|at half past four|before breakfast|on the second floor
for the whole week|because of the rain|without a word|in the other room|this time|as usual|on friday|near the river"""
ASIDES = """i would rather stay here a little longer|could you open the window for me|there was nothing good on television
what did the doctor tell you|we ought to measure the shelf before we buy it|the children are playing in the garden
it sounds like thunder to me|he is going to be late as always|are those your keys on the chair|give me a hand with this
that is the wrong way round|where did i put my glasses|no i do not think so|yes of course you can|what time is dinner
the next bus comes at nine|you can say that again|stop worrying about it|how much was the ticket|i read it in the paper
they have finished the new road|she carried on talking|mark is not here today|the last one was better|once is enough
it is not what you think|my reading lamp does not work|the right size is the large one|the list is on the door
i will never finish this book|the stage was much too small|hand me the torch would you|put the lid on the tin
there are seven days in a week|it costs fifteen or fifty i forget|he turned thirty in march|ninety of them were sold"""


def denied(language):
    """Phrases as they are denied, doubted or asked, by the forms of the language file, as the program makes them
    (src/dialogue/denials.rs). Here the slots of a phrase stay in it: what is said with them is sound, not a grammar."""
    found = {}
    for key, patterns in language["phrases"].items():
        for phrase in patterns:
            words = phrase.split()
            for form in language.get("denials", {}).get("forms", []):
                at = next((n for n, word in enumerate(words) if word in form.get("at", ())), None)
                unfit = key in form.get("but", ()) or ("of" in form and key not in form["of"])
                if unfit or ("at" in form and at is None) or (form.get("first") and at):
                    continue
                word = "" if at is None else words[at]
                parts = {"{before}": " ".join(words[:at]), "{word}": word, "{after}": "" if at is None else " ".join(words[at + 1:]),
                         "{other}": form.get("other", {}).get(word), "{phrase}": phrase}
                for say in form["say"]:
                    if "{other}" in say and not parts["{other}"]:
                        continue
                    text = " ".join(" ".join(parts.get(part, part) for part in say.split()).split())
                    if text != phrase:
                        found[text] = None
    return list(found)


def lines(text):
    return [part.strip() for line in text.splitlines() for part in line.split("|")]


class Texts:
    """Draws what is said. `language` is the parsed language file, `vocabulary` the words the model knows."""

    def __init__(self, language, vocabulary, seed):
        self.chance = random.Random(f"texts {seed}")
        self.vocabulary = set(vocabulary)
        self.words = sorted(w for w in self.vocabulary if w.isalpha())
        self.cardinals = language["numbers"]["cardinals"]
        self.units = sorted({h for u in language["units"].values() for h in u["heard"]})
        self.patterns = [(key, p) for key, patterns in language["phrases"].items() for p in patterns]
        self.decoys = language["decoys"]["words"]
        self.denied = denied(language)
        # Words that are a phrase by themselves, numbers that are one word, and all words that phrases are made of.
        answers = sorted({p for _, p in self.patterns if p.isalpha()})
        digits = [c for c in self.cardinals if c.isalpha()]
        of_phrases = sorted({w for _, p in self.patterns for w in p.split() if w.isalpha()})
        self.alone = [some for some in (answers, digits, of_phrases) if some]

    def number(self):
        """A number as the program hears it: a cardinal, hundreds, a decimal or a half."""
        pick, chance = self.chance.choice, self.chance.random()
        if chance < 0.3:
            return pick(TEENS_AND_TIES)
        if chance < 0.72:
            return pick(self.cardinals)
        if chance < 0.86:
            joined = pick([" and ", " "])
            return f"{pick(self.cardinals[1:10])} hundred" + (joined + pick(self.cardinals[1:]) if chance < 0.83 else "")
        if chance < 0.89:
            return "a hundred" + pick(["", " and " + pick(self.cardinals[1:])])
        if chance < 0.98:
            return f"{pick(self.cardinals[:40])} point {pick(self.cardinals[:10])}"
        return f"{pick(self.cardinals[1:10])} and a half"

    def command(self):
        key, pattern = self.chance.choice(self.patterns)
        if key == "reading" and self.chance.random() < 0.7:  # readings are said most and vary most: see `number`
            key, pattern = self.chance.choice(self.patterns)
        return self.filled(pattern)

    def filled(self, pattern):
        small = lambda: self.chance.choice(self.cardinals[1:41])
        number = self.number() if pattern.startswith("reading") else small()
        slots = {"number": number, "unit": self.chance.choice(self.units), "minutes": "minutes",
                 "place": self.chance.choice(["front", "rear", "upper", "lower", "left", "right", "inner", "outer"]),
                 # The names on a page of values are the user's own: any words may be one.
                 "name": " ".join(self.chance.choices(self.words, k=self.chance.randint(1, 3)))}
        return re.sub(r"\{(\w+)\}", lambda found: slots[found[1]], pattern)

    def talk(self):
        pick = self.chance.choice
        if self.chance.random() < 0.35:
            return pick(lines(ASIDES))
        return " ".join(filter(None, (pick(lines(part)) for part in (PEOPLE, DEEDS, OBJECTS, WHEN))))

    def draw(self):
        """(kind, text), every word of the text in the vocabulary."""
        while True:
            kind = self.chance.choices(list(SHARES), SHARES.values())[0]
            if kind == "command":
                text = self.command()
            elif kind == "number":
                shape = self.chance.random()
                number, unit = self.number(), self.chance.choice(self.units)
                text = f"reading {number}" if shape < 0.4 else f"reading {number} {unit}" if shape < 0.7 else (
                    f"{number} {unit}" if shape < 0.8 else number)
            elif kind == "decoy":
                text = self.chance.choice(self.decoys)
            elif kind == "denied":
                text = self.filled(self.chance.choice(self.denied)) if self.denied else self.command()
            elif kind == "alone":
                text = self.chance.choice(self.chance.choice(self.alone))
            elif kind == "talk":
                text = self.talk()
            else:
                text = " ".join(self.chance.choices(self.words, k=self.chance.randint(1, 5)))
            if set(text.split()) <= self.vocabulary:
                return kind, text


def read_language(path):
    return tomllib.loads(Path(path).read_text(encoding="utf-8"))


def read_lexicon(path):
    """word -> its pronunciations, each a list of ARPAbet phones; lines are `word PHONE PHONE ...`."""
    lexicon = {}
    for number, line in enumerate(Path(path).read_text(encoding="utf-8").splitlines(), 1):
        word, *phones = line.split()
        if not phones:
            raise SystemExit(f"{path}:{number}: {word!r} has no pronunciation; allowed is: word PHONE PHONE ...")
        lexicon.setdefault(word, []).append(phones)
    return lexicon
