"""The phones and what the network tells of each.

Thirty-nine phones of ARPAbet, silence, and SPN: speech that is none of the words, `[unk]` in a grammar. Each has two
outputs, one for its first frame and one for the frames after it, as in Kaldi's chain models.
"""

from .lexicon import PHONES

BASE = ["SIL", "SPN", *PHONES]
NUMBER = {phone: number for number, phone in enumerate(BASE)}
SIL, SPN = 0, 1
OUTPUTS = 2 * len(BASE)

# The phones of the graph know where in a word they stand, which Kaldi needs to find word boundaries: (name, kind, base).
POSITIONED = [("SIL", "nonword", "SIL"), ("SPN_S", "singleton", "SPN")] + [
    (f"{phone}_{letter}", kind, phone) for phone in PHONES
    for letter, kind in zip("BEIS", ("begin", "end", "internal", "singleton"))]
POSITIONED_ID = {name: number for number, (name, _, _) in enumerate(POSITIONED, 1)}


def in_word(phones):
    """ARPAbet of a word -> names of positioned phones."""
    if len(phones) == 1:
        return [f"{phones[0]}_S"]
    return [f"{phones[0]}_B", *(f"{p}_I" for p in phones[1:-1]), f"{phones[-1]}_E"]


def outputs_of(base):
    """(first frame, frames after it) of a base phone's name."""
    return 2 * NUMBER[base], 2 * NUMBER[base] + 1
