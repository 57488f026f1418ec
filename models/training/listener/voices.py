"""The synthetic voices that speak for training: which there are, how each program is called, and which must not be used.

Voices that `wrenchside bench-hearing` measures with are never trained on, so that its figures mean voices never heard
before; `tests/test_voices.py` holds this file and scripts/make-hearing-set together.
"""

import json
import random
import subprocess
import tempfile
from pathlib import Path

import numpy as np

# espeak-ng's variants, less those of the bench (steph, shelby, edward2, kaukovalta, m5) and their near relatives.
ESPEAK_VARIANTS = """adam anika announcer antonio aunty belinda benjamin boris caleb david ed f1 f2 f3 f4 f5 grandma
grandpa gustave iven2 john linda m1 m2 m3 m4 m6 m7 m8 marcelo max michel miguel norbert pablo paul pedro quincy rob
robert sandro travis victor zac Alex Alicia Andrea Andy Annie Denis Diogo Gene Henrique Hugo Lee Marco Mario Michael
Mike Nguyen Jacky""".split()
ESPEAK_ACCENTS = """en-us en-us en-us en-gb en-gb en-gb-x-rp en-gb-scotland en-gb-x-gbclan en-gb-x-gbcwmd en-029
en-us-nyc""".split()

# Kokoro's voices: the first letter is the language they were made for (a: American, b: British; the others speak
# English with an accent), the second f or m.
KOKORO_ENGLISH = """af_alloy af_aoede af_bella af_heart af_jessica af_kore af_nicole af_nova af_river af_sarah af_sky
am_adam am_echo am_eric am_fenrir am_liam am_michael am_onyx am_puck bf_alice bf_emma bf_isabella bf_lily bm_daniel
bm_fable bm_george bm_lewis""".split()
KOKORO_ACCENTED = """ef_dora em_alex ff_siwis hf_alpha hf_beta hm_omega hm_psi if_sara im_nicola jf_alpha jf_gongitsune
jf_nezumi jm_kumo pf_dora pm_alex zf_xiaobei zf_xiaoni zf_xiaoxiao zm_yunjian zm_yunxi zm_yunyang""".split()

# Of a hundred synthetic utterances, by program.
SHARES = {"kokoro": 70, "espeak-ng": 30}


def draw(chance, program):
    """(voice, accent, speed) for one utterance. A voice of Kokoro may be a blend: `am_puck*0.35+bf_emma*0.65`."""
    if program == "espeak-ng":
        return chance.choice(ESPEAK_VARIANTS), chance.choice(ESPEAK_ACCENTS), chance.uniform(0.75, 1.2)
    kind = chance.random()
    if kind < 0.45:
        voice = chance.choice(KOKORO_ENGLISH)
    elif kind < 0.58:
        voice = chance.choice(KOKORO_ACCENTED)
    else:
        one, two = chance.sample(KOKORO_ENGLISH + KOKORO_ENGLISH + KOKORO_ACCENTED, 2)
        part = round(chance.uniform(0.3, 0.7), 2)
        voice = f"{one}*{part}+{two}*{1 - part:.2f}"
    british = voice[0] == "b"
    accents = ["en-gb"] * 5 + ["en-gb-x-rp", "en-gb-scotland", "en-gb-x-gbclan", "en-us"] if british else (
        ["en-us"] * 6 + ["en-us-nyc", "en-gb", "en-029"])
    return voice, chance.choice(accents), chance.uniform(0.8, 1.35)


def phonemes(texts_of_accent):
    """{accent: [text]} -> {(accent, text): IPA}, by espeak-ng, in one run an accent."""
    found = {}
    for accent, texts in texts_of_accent.items():
        said = subprocess.run(["espeak-ng", "-q", "--ipa", "-v", accent], input="\n".join(texts) + "\n", text=True,
                              capture_output=True, check=True).stdout.splitlines()
        said = [line.strip() for line in said if line.strip()]
        if len(said) != len(texts):
            raise SystemExit(f"espeak-ng {accent}: {len(texts)} texts gave {len(said)} lines")
        found.update({(accent, text): line for text, line in zip(texts, said)})
    return found


class Kokoro:
    """Kokoro-82M (ONNX). `folder` holds kokoro.onnx, vocabulary.json and voices/NAME.bin; see ../README.md."""

    rate = 24000

    def __init__(self, folder):
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.inter_op_num_threads = 1
        self.folder = Path(folder)
        self.run = onnxruntime.InferenceSession(str(self.folder / "kokoro.onnx"), options,
                                                providers=["CPUExecutionProvider"]).run
        self.symbols = json.loads((self.folder / "vocabulary.json").read_text())

    def style(self, voice, length):
        total = 0
        for part in voice.split("+"):
            name, _, share = part.partition("*")
            rows = np.fromfile(self.folder / "voices" / f"{name}.bin", "<f4").reshape(-1, 256)
            total = total + float(share or 1) * rows[min(length, len(rows) - 1)]
        return total[None].astype(np.float32)

    def speak(self, text, voice, accent, speed, ipa, chance):
        known = [self.symbols[symbol] for symbol in ipa + chance.choice(["", "", ".", "!", "?"]) if symbol in self.symbols]
        return self.run(None, {"tokens": np.array([[0, *known, 0]]), "style": self.style(voice, len(known)),
                               "speed": np.array([speed], np.float32)})[0]


class Espeak:
    rate = 22050

    def __init__(self, folder):
        pass

    def speak(self, text, voice, accent, speed, ipa, chance):
        import soundfile

        with tempfile.NamedTemporaryFile(suffix=".wav") as file:
            subprocess.run(["espeak-ng", "-v", f"{accent}+{voice}", "-s", str(int(165 * speed)), "-p",
                            str(chance.randint(25, 75)), "-w", file.name, text], check=True, capture_output=True)
            return soundfile.read(file.name, dtype="float32")[0]


PROGRAMS = {"kokoro": Kokoro, "espeak-ng": Espeak}


def utterances(texts, count, seed):
    """`count` utterances to speak: dicts of program, voice, accent, speed, kind, text, ipa. The same for the same seed."""
    chance = random.Random(f"voices {seed}")
    wanted = []
    for _ in range(count):
        program = chance.choices(list(SHARES), SHARES.values())[0]
        voice, accent, speed = draw(chance, program)
        kind, text = texts.draw()
        wanted.append({"program": program, "voice": voice, "accent": accent, "speed": round(speed, 3), "kind": kind,
                       "text": text, "ipa": ""})
    by_accent = {}
    for one in wanted:
        if one["program"] == "kokoro":
            by_accent.setdefault(one["accent"], {})[one["text"]] = None
    said = phonemes({accent: list(texts) for accent, texts in by_accent.items()})
    for one in wanted:
        one["ipa"] = said.get((one["accent"], one["text"]), "")
    return wanted
