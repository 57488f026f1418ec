"""The graph of a vosk model: from transition ids through phones to words, ready to be joined with a grammar at run time.

    python -m listener.graph --lexicon LEXICON MODEL      (after `export`: the network says whether it knows contexts)

Knows the lexicon, joined words (`joined`) and Kaldi's way of building HCL; the grammar of the moment is the program's
business. Pieces: words' phones with disambiguation symbols and optional silence (L), determinised and minimised, each phone
expanded to its two transition ids, by the phone before it where the network tells them apart (H and C), then `lookahead.cc`.
There must be no HCLG.fst beside the result: it would switch grammars at run time off.
"""

import argparse
import math
import subprocess
from collections import Counter
from pathlib import Path

import kaldifst

from . import kaldi
from .joined import PAUSE, broken_off, pieces, pronounced
from .phones import POSITIONED, POSITIONED_ID, SIL, base_of, contexts_of, in_word, transitions
from .texts import read_language, read_lexicon

UNKNOWN = "[unk]"
SILENCE = 0.5
HALF = -math.log(0.5)

# Among phone ids: a pause may be here. It costs so much more than silence elsewhere, for each 30 ms of it, as a natural
# logarithm: for nothing it would take what else is said for silence, and hear "help yourself to the biscuits please" as
# "help please".
MAY_PAUSE = 0
PAUSE_COST = 0.7
# What it costs to hear a joined word as broken off, as a natural logarithm. With none, words whose last sound is hard to
# hear are lost; with 5 as many are heard as if nothing could be broken off.
BROKEN_OFF_COST = 5.0


def pronunciations(lexicon, joined):
    """[(word, phone ids, extra cost)]: the words, those that are joined, whole and broken off, and the unknown word as the
    phone of other speech."""
    plain = lambda phones: [POSITIONED_ID[name] for name in in_word(phones)]

    def with_pauses(phones, end=None):
        names = iter(in_word([phone for phone in [*phones, *([end] if end else [])] if phone != PAUSE]))
        ids = [MAY_PAUSE if phone == PAUSE else POSITIONED_ID[next(names)] for phone in phones]
        return ids + ([POSITIONED_ID["SPN_E"]] if end else [])

    found = [(word, plain(phones), 0.0) for word in sorted(lexicon) for phones in lexicon[word]]
    found += [(word, with_pauses(phones), 0.0) for word, ways in sorted(joined.items()) for phones in ways]
    found += [(word, with_pauses(phones, "SPN"), BROKEN_OFF_COST) for word, ways in sorted(broken_off(joined).items()) for phones in ways]
    return found + [(UNKNOWN, [POSITIONED_ID["SPN_S"]], 0.0)]


def disambiguated(spoken):
    """[(word, phones, extra cost, number)]: 0, or the disambiguation symbol that words said alike, or begun alike, need."""
    keys = [tuple(phone for phone in phones if phone != MAY_PAUSE) for _, phones, _ in spoken]
    same = Counter(keys)
    beginnings = {key[:k] for key in keys for k in range(1, len(key))}
    used, found = Counter(), []
    for (word, phones, cost), key in zip(spoken, keys):
        if same[key] > 1 or key in beginnings:
            used[key] += 1
        found.append((word, phones, cost, used[key]))
    return found, max(used.values(), default=0) + 1  # the last one is silence's


def lexicon_fst(spoken, ids, silence_symbol, first_symbol):
    fst = kaldifst.StdVectorFst()
    arc = lambda source, label, word, cost, target: fst.add_arc(source, kaldifst.StdArc(label, word, cost, target))
    start, loop, silent, after = (fst.add_state() for _ in range(4))
    fst.start = start
    without, with_silence = -math.log(1 - SILENCE), -math.log(SILENCE)
    arc(start, 0, 0, without, loop)
    arc(start, 0, 0, with_silence, silent)
    arc(silent, POSITIONED_ID["SIL"], 0, 0, after)
    arc(after, first_symbol + silence_symbol, 0, 0, loop)
    for word, phones, extra, symbol in spoken:
        labels = phones + ([first_symbol + symbol] if symbol else [])
        # Where the next phone may come from, with what that costs: at once, or after a pause.
        sources, said = [(loop, 0.0)], ids[word]
        for label in labels[:-1]:
            if label == MAY_PAUSE:
                (state, _), = sources
                paused = fst.add_state()
                arc(state, POSITIONED_ID["SIL_I"], 0, with_silence, paused)
                sources = [(state, without), (paused, 0.0)]
                continue
            onward = fst.add_state()
            for source, cost in sources:
                arc(source, label, said, cost, onward)
            sources, said = [(onward, 0.0)], 0
        for source, cost in sources:
            arc(source, labels[-1], said, cost + extra + without, loop)
            arc(source, labels[-1], said, cost + extra + with_silence, silent)
    fst.set_final(loop, 0)
    done = kaldifst.determinize_star(fst)
    fst = done if isinstance(done, kaldifst.StdVectorFst) else fst
    # Words end alike: a third of the states goes.
    kaldifst.minimize_encoded(fst)
    return fst


def value(weight):
    return weight.value if hasattr(weight, "value") else float(weight)


def with_transitions(words, contexts, first_symbol):
    """Each phone as the transition ids of its frames; symbols get numbers after the last id. A state of the result is one of
    `words` together with the phone last said, if the network's outputs depend on that."""
    ids = transitions(contexts)
    fst = kaldifst.StdVectorFst()
    states, unfinished = {}, []

    def state_of(state, before):
        key = state, before if contexts > 1 else SIL
        if key not in states:
            states[key] = fst.add_state()
            unfinished.append(key)
        return states[key]

    fst.start = state_of(words.start, SIL)
    while unfinished:
        state, before = unfinished.pop()
        source = states[state, before]
        final = value(words.final(state))
        if final != float("inf"):
            fst.set_final(source, final)
        for arc in kaldifst.ArcIterator(words, state):
            cost = value(arc.weight)
            if arc.ilabel == 0:
                fst.add_arc(source, kaldifst.StdArc(0, arc.olabel, cost, state_of(arc.nextstate, before)))
            elif arc.ilabel >= first_symbol:
                label = 2 * len(ids) + 1 + arc.ilabel - first_symbol
                fst.add_arc(source, kaldifst.StdArc(label, arc.olabel, cost, state_of(arc.nextstate, before)))
            else:
                loop, forward = ids[before if contexts > 1 else 0, arc.ilabel]
                middle = fst.add_state()
                fst.add_arc(source, kaldifst.StdArc(forward, arc.olabel, cost + HALF, middle))
                more = PAUSE_COST if arc.ilabel == POSITIONED_ID["SIL_I"] else 0.0
                fst.add_arc(middle, kaldifst.StdArc(loop, 0, HALF + more, middle))
                fst.add_arc(middle, kaldifst.StdArc(0, 0, 0, state_of(arc.nextstate, base_of(arc.ilabel))))
    return fst


def build(lexicon, joined, contexts, model, tools):
    """Writes MODEL/graph. `contexts`: how many phones before a phone the network tells apart; `tools`: a folder for the
    compiled lookahead."""
    graph = Path(model) / "graph"
    (graph / "phones").mkdir(parents=True, exist_ok=True)
    spoken, silence_symbol = disambiguated(pronunciations(lexicon, joined))
    first_symbol = len(POSITIONED) + 1
    words = ["<eps>", *sorted(lexicon), *sorted(joined), *sorted(broken_off(joined)), UNKNOWN]
    ids = {word: number for number, word in enumerate(words)}
    whole = with_transitions(lexicon_fst(spoken, ids, silence_symbol, first_symbol), contexts, first_symbol)
    plain, pairs = graph / "HCL.fst", graph / "pairs"
    whole.write(str(plain))
    subprocess.run([str(compiled(tools)), str(plain), str(graph / "HCLr.fst"), str(pairs)], check=True)
    renumbered = dict(map(int, line.split()) for line in pairs.read_text().splitlines() if line.strip())
    ids = {word: renumbered.get(number, number) if number else 0 for word, number in ids.items()}
    if len(set(ids.values())) != len(ids):
        raise SystemExit("two words have one number after renumbering")
    plain.unlink()
    pairs.unlink()
    (graph / "words.txt").write_text("".join(f"{w} {n}\n" for w, n in sorted(ids.items(), key=lambda pair: pair[1])))
    # Any word after any other: what is recognised when no grammar is given.
    any_word, cost = kaldifst.StdVectorFst(), math.log(len(lexicon) + 2)
    state = any_word.add_state()
    any_word.start = state
    for number in sorted(ids[word] for word in [*lexicon, UNKNOWN]):
        any_word.add_arc(state, kaldifst.StdArc(number, number, cost, state))
    any_word.set_final(state, cost)
    any_word.write(str(graph / "Gr.fst"))
    symbols = range(silence_symbol + 1)
    (graph / "disambig_tid.int").write_text("".join(f"{2 * len(transitions(contexts)) + 1 + k}\n" for k in symbols))
    names = ["<eps>", *(name for name, _, _ in POSITIONED), *(f"#{k}" for k in symbols)]
    (graph / "phones.txt").write_text("".join(f"{name} {n}\n" for n, name in enumerate(names)))
    (graph / "phones" / "word_boundary.int").write_text("".join(f"{n} {kind}\n" for n, (_, kind, _) in enumerate(POSITIONED, 1)))


def compiled(tools):
    """The program of lookahead.cc, compiled once."""
    source, program = Path(__file__).parent.parent / "lookahead.cc", Path(tools).resolve() / "lookahead"
    if not program.exists() or program.stat().st_mtime < source.stat().st_mtime:
        program.parent.mkdir(parents=True, exist_ok=True)
        subprocess.run(["c++", "-O1", "-std=c++17", "-o", str(program), str(source), "-lfst", "-ldl", "-lpthread"], check=True)
    return program


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("--lexicon", type=Path, required=True)
    ask.add_argument("--language", type=Path, default="../../src/dialogue/languages/en.toml", help="whose phrases are joined")
    ask.add_argument("--tools", type=Path, default="build")
    ask.add_argument("model", type=Path)
    said = ask.parse_args()
    outputs = kaldi.read_components(said.model / "am" / "final.mdl")["output.affine"]["<BiasParams>"]
    lexicon = read_lexicon(said.lexicon)
    joined = pronounced(pieces(read_language(said.language)), lexicon)
    build(lexicon, joined, contexts_of(len(outputs)), said.model, said.tools)
    print(f"{said.model / 'graph'}: built, {len(lexicon)} words and {len(joined)} joined")


if __name__ == "__main__":
    main()
