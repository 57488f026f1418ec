"""Phrases as single words of the graph, so that a grammar can hold them whole.

libvosk makes a word bigram of a run-time grammar: from any word it may go on to any other at a price, so "previous step"
comes out as "previous stripped". What is one word to it cannot come apart. Such a joined word is written with `_`
("previous_step"), and a person may pause between its parts.

Knows which pieces of phrases a language file has; the program looks up in the model which of them there are.
"""

import itertools
import re

JOINT = "_"
# Between the parts of a joined word, where silence may be.
PAUSE = "|"
# Said as the joined word to the last but one phone, and then something else. It ends no phrase. While both are in a grammar
# libvosk cannot tell which it is, so a phrase is not written down before all of it was said.
BROKEN_OFF = "~"
# Of the ways to pronounce the parts that make ways to pronounce the whole.
MOST_WAYS = 32


def pieces(language):
    """The sequences of words that are worth joining: what phrases have between their slots, and numbers and units as far as
    they are the same wherever they are said."""
    numbers = language["numbers"]
    cardinals = numbers["cardinals"]
    found = {piece for patterns in language["phrases"].values() for pattern in patterns for piece in re.split(r"\{\w+\}", pattern)}
    found |= set(language["decoys"]["words"]) | set(cardinals)
    found |= {heard for unit in language["units"].values() for heard in unit["heard"]}
    before = cardinals[1:10] + ([numbers["one_before"]] if "one_before" in numbers else [])
    for pattern in numbers.get("hundreds", []) + numbers.get("hundreds_and_rest", []):
        found |= {pattern.replace("{hundreds}", n).replace("{rest}", "") for n in before}
    for pattern in numbers.get("one_hundred", []) + numbers.get("one_hundred_and_rest", []):
        found.add(pattern.replace("{rest}", ""))
    if "point" in numbers:
        found |= {f"{numbers['point']} {n}" for n in cardinals[:10]}
    if "half" in numbers:
        found.add(numbers["half"])
    found = {" ".join(piece.split()) for piece in found}
    return sorted(piece for piece in found if " " in piece and "{" not in piece)


def pronounced(pieces, lexicon):
    """joined word -> its pronunciations, with PAUSE between the parts. Pieces with words that the lexicon lacks are left out."""
    found = {}
    for piece in pieces:
        words = piece.split()
        if not all(word in lexicon for word in words):
            continue
        ways = itertools.islice(itertools.product(*(lexicon[word] for word in words)), MOST_WAYS)
        found[JOINT.join(words)] = [[phone for part in way for phone in (PAUSE, *part)][1:] for way in ways]
    return found


def broken_off(pronunciations):
    """The same joined words, broken off before the last phone; it may be the whole of the last part."""
    return {word + BROKEN_OFF: _without_repeats([way[:-1] for way in ways]) for word, ways in pronunciations.items()}


def grammar(phrases, words):
    """The lines of a grammar for these phrases with the joined words that a model has among its `words`, as the program
    makes them (src/listen/joined.rs)."""
    lines, others = [], set()
    for phrase in phrases:
        rest, line = phrase.split(), []
        while rest:
            runs = (JOINT.join(rest[:many]) for many in range(len(rest), 1, -1))
            word = next((run for run in runs if run in words and run + BROKEN_OFF in words), rest[0])
            line.append(word)
            rest = rest[word.count(JOINT) + 1:]
            others |= {word + BROKEN_OFF, *word.split(JOINT)} if JOINT in word else set()
        lines.append(" ".join(line))
    return lines + sorted(others)


def spoken(text):
    """What libvosk heard with such a grammar, in words; what was broken off is unknown."""
    return " ".join("[unk]" if word.endswith(BROKEN_OFF) else word.replace(JOINT, " ") for word in text.split())


def _without_repeats(ways):
    return list(map(list, dict.fromkeys(map(tuple, ways))))
