"""The synthetic voices that speak for training: which there are, how each program is called, and which must not be used.

Voices that `wrenchside bench-hearing` measures with are never trained on, so that its figures mean voices never heard
before; `tests/test_voices.py` holds this file and scripts/make-hearing-set together.
"""

import json
import os
import random
import subprocess
import tempfile
from pathlib import Path

import numpy as np

from . import diphones, reels

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

# SVOX Pico: a woman, American or British (Debian's libttspico-utils).
SVOX_ACCENTS = ["en-US", "en-GB"]
# RHVoice (Debian's rhvoice-english). Of its voices `alan` and `slt` are the very people of the bench's awb and slt, and the
# licences of the others, `lyubov` and `evgeniy-eng`, forbid to build upon them.
RHVOICE = ["bdl", "clb"]

# Of a hundred synthetic utterances, by program. The others speak only when they are asked for by name.
SHARES = {"kokoro": 70, "espeak-ng": 30}
# Of a hundred by espeak-ng, how many are spoken by a voice made up for that utterance alone (see `made_up`).
MADE_UP = 75


def made_up(number):
    """A variant of espeak-ng: pitch, formants, breath, roughness and source are drawn. The text of its file.

    Ranges are somewhat wider than those of espeak-ng's own variants. `number` is the seed.
    """
    chance = random.Random(f"made up {number}")
    between, maybe = chance.uniform, lambda part: chance.random() < part
    lines = ["language variant", "name made"]
    low = between(60, 190)
    lines.append(f"pitch {low:.0f} {low * between(1.02, 1.9):.0f}")
    # A longer or shorter throat, and each formant a little off for itself.
    throat, tall, wide = between(78, 125), between(70, 120), between(70, 160)
    for formant in range(9):
        off = between(0.6, 1.1) if formant == 1 and maybe(0.3) else between(0.9, 1.1)
        lines.append(f"formant {formant} {throat * off:.0f} {tall * between(0.75, 1.25):.0f} "
                     f"{wide * between(0.8, 1.25):.0f}")
    if maybe(0.5):
        lines.append(f"flutter {chance.randint(0, 20)}")
    if maybe(0.4):
        lines.append(f"roughness {chance.randint(0, 7)}")
    if maybe(0.5):
        lines.append(f"voicing {chance.randint(25, 140)}")
    if maybe(0.6):
        lines.append(f"consonants {chance.randint(60, 140)} {chance.randint(60, 140)}")
    if maybe(0.3):
        lines.append("breath " + " ".join(str(chance.randint(0, 40 // (1 + at))) for at in range(8)))
    if maybe(0.3):
        lines.append(f"tone 600 {chance.randint(80, 200)} 1200 {chance.randint(60, 170)} 2000 {chance.randint(40, 150)} "
                     f"4000 {chance.randint(20, 130)}")
    if maybe(0.3):
        lines.append("stressLength " + " ".join(str(chance.randint(120, 260)) for _ in range(8)))
    if maybe(0.2):
        lines.append(f"echo {chance.randint(20, 160)} {chance.randint(5, 35)}")
    if maybe(0.3):
        lines.append(f"klatt {chance.randint(1, 5)}")
    return "\n".join(lines) + "\n"


def draw(chance, program):
    """(voice, accent, speed) for one utterance. A voice of Kokoro may be a blend: `am_puck*0.35+bf_emma*0.65`."""
    if program == "espeak-ng":
        made = chance.randrange(100) < MADE_UP
        voice = f"made-{chance.randrange(10**9)}" if made else chance.choice(ESPEAK_VARIANTS)
        return voice, chance.choice(ESPEAK_ACCENTS), chance.uniform(0.75, 1.2)
    if program == "svox":
        return "pico", chance.choice(SVOX_ACCENTS), chance.uniform(0.75, 1.4)
    if program == "diphone":
        return chance.choice(diphones.VOICES), "en-GB", chance.uniform(0.75, 1.35)
    if program == "rhvoice":
        return chance.choice(RHVOICE), "en-US", chance.uniform(0.75, 1.3)
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
    """espeak-ng, with a folder of data of its own that has a place for voices that are made up."""

    rate = 22050

    def __init__(self, folder):
        said = subprocess.run(["espeak-ng", "--version"], capture_output=True, text=True, check=True).stdout
        installed = Path(said.partition("Data at: ")[2].strip())
        self.home = tempfile.TemporaryDirectory()
        data = Path(self.home.name) / "espeak-ng-data"
        variants = data / "voices" / "!v"
        variants.mkdir(parents=True)
        for there, here in ((installed, data), (installed / "voices", data / "voices"), (installed / "voices" / "!v", variants)):
            for one in there.iterdir():
                if not (here / one.name).exists():
                    (here / one.name).symlink_to(one)
        self.made, self.wav = variants / "made", Path(self.home.name) / "said.wav"
        self.environment = {**os.environ, "ESPEAK_DATA_PATH": self.home.name}

    def speak(self, text, voice, accent, speed, ipa, chance):
        import soundfile

        name, _, number = voice.partition("-")
        if name == "made":
            self.made.write_text(made_up(number))
            voice = name
        subprocess.run(["espeak-ng", "-v", f"{accent}+{voice}", "-s", str(int(165 * speed)), "-p", str(chance.randint(25, 75)),
                        "-w", str(self.wav), text], check=True, capture_output=True, env=self.environment)
        return soundfile.read(self.wav, dtype="float32")[0]


class Svox:
    """SVOX Pico, at other pitches for each utterance."""

    rate = 16000

    def __init__(self, folder):
        self.home = tempfile.TemporaryDirectory()
        self.wav = Path(self.home.name) / "said.wav"

    def speak(self, text, voice, accent, speed, ipa, chance):
        import soundfile

        marked = f'<pitch level="{chance.randint(55, 130)}"><speed level="{int(100 * speed)}">{text}</speed></pitch>'
        subprocess.run(["pico2wave", "-l", accent, "-w", str(self.wav), marked], check=True, capture_output=True)
        return soundfile.read(self.wav, dtype="float32")[0]


class RHVoice:
    """RHVoice: hidden Markov models of two people, at other pitches for each utterance."""

    rate = 16000

    def __init__(self, folder):
        self.home = tempfile.TemporaryDirectory()
        self.wav = Path(self.home.name) / "said.wav"

    def speak(self, text, voice, accent, speed, ipa, chance):
        import soundfile

        subprocess.run(["RHVoice-test", "-p", voice, "-r", str(int(100 * speed)), "-t", str(chance.randint(80, 125)),
                        "-o", str(self.wav)], input=text + "\n", text=True, check=True, capture_output=True)
        sound, rate = soundfile.read(self.wav, dtype="float32")
        return reels.at_rate(sound, rate)


PROGRAMS = {"kokoro": Kokoro, "espeak-ng": Espeak, "svox": Svox, "rhvoice": RHVoice, "diphone": diphones.Diphones}


def utterances(texts, count, seed, program=None):
    """`count` utterances to speak, by all programs or one: dicts of program, voice, accent, speed, kind, text, ipa.

    The same for the same seed.
    """
    chance = random.Random(f"voices {seed}")
    wanted = []
    for _ in range(count):
        by = program or chance.choices(list(SHARES), SHARES.values())[0]
        voice, accent, speed = draw(chance, by)
        kind, text = texts.draw()
        wanted.append({"program": by, "voice": voice, "accent": accent, "speed": round(speed, 3), "kind": kind,
                       "text": text, "ipa": ""})
    by_accent = {}
    for one in wanted:
        if one["program"] == "kokoro":
            by_accent.setdefault(one["accent"], {})[one["text"]] = None
    said = phonemes({accent: list(texts) for accent, texts in by_accent.items()})
    for one in wanted:
        one["ipa"] = said.get((one["accent"], one["text"]), "")
    return wanted
