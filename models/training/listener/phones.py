"""The phones and what the network tells of each.

Thirty-nine phones of ARPAbet, silence, and SPN: speech that is none of the words, `[unk]` in a grammar. Each has two
outputs, one for its first frame and one for the frames after it, as in Kaldi's chain models. A network with contexts has
such a pair for each phone after each other one (biphones); before the first phone of an utterance there was silence.
"""

from .lexicon import PHONES

BASE = ["SIL", "SPN", *PHONES]
NUMBER = {phone: number for number, phone in enumerate(BASE)}
SIL, SPN = 0, 1
OUTPUTS = 2 * len(BASE)


def contexts_of(outputs):
    """How many phones before a phone a network with so many outputs tells apart: 1, which means none, or all."""
    contexts = outputs // OUTPUTS
    if contexts not in (1, len(BASE)) or outputs != contexts * OUTPUTS:
        raise ValueError(f"{outputs} outputs; {OUTPUTS} or, with contexts, {len(BASE) * OUTPUTS} are understood")
    return contexts


# The phones of the graph know where in a word they stand, which Kaldi needs to find word boundaries: (name, kind, base).
POSITIONED = [("SIL", "nonword", "SIL"), ("SPN_S", "singleton", "SPN")] + [
    (f"{phone}_{letter}", kind, phone) for phone in PHONES
    for letter, kind in zip("BEIS", ("begin", "end", "internal", "singleton"))] + [
    # Within joined words (`joined`): a pause, and other speech in place of the end.
    ("SIL_I", "internal", "SIL"), ("SPN_E", "end", "SPN")]
POSITIONED_ID = {name: number for number, (name, _, _) in enumerate(POSITIONED, 1)}


def in_word(phones):
    """ARPAbet of a word -> names of positioned phones."""
    if len(phones) == 1:
        return [f"{phones[0]}_S"]
    return [f"{phones[0]}_B", *(f"{p}_I" for p in phones[1:-1]), f"{phones[-1]}_E"]


def tuples(contexts=1):
    """[(positioned phone, state of its topology, output of the first frame, of the frames after it)] in Kaldi's order, which
    is what numbers transition ids."""
    return sorted((phone, 0, first, first + 1) for phone, (_, _, base) in enumerate(POSITIONED, 1)
                  for first in (OUTPUTS * before + 2 * NUMBER[base] for before in range(contexts)))


def transitions(contexts=1):
    """(phone before, positioned phone) -> transition ids (of the loop, of the way on)."""
    found = {}
    for number, (phone, _, first, _) in enumerate(tuples(contexts)):
        found[first // OUTPUTS, phone] = (2 * number + 1, 2 * number + 2)
    return found


def base_of(phone):
    """Number of a positioned phone -> number of the phone."""
    return NUMBER[POSITIONED[phone - 1][2]]
