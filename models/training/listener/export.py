"""Writes a trained network in the layout of a vosk model: am/final.mdl and conf/.

    python -m listener.export WEIGHTS.npz MODEL
    python -m listener.export final.mdl MODEL         a network of an earlier version anew, with the phones of today's graph
"""

import argparse
from pathlib import Path

from . import network
from .train import read_weights

FEATURES = """--use-energy=false
--num-mel-bins=40
--num-ceps=40
--low-freq=20
--high-freq=7600
--dither=0
--allow-upsample=true
--allow-downsample=true
"""
DECODING = """--min-active=200
--max-active=3000
--beam=13.0
--lattice-beam=3.0
--acoustic-scale=1.0
--frame-subsampling-factor=3
--frames-per-chunk=12
--endpoint.silence-phones=1
--endpoint.rule2.min-trailing-silence=0.5
--endpoint.rule3.min-trailing-silence=1.0
--endpoint.rule4.min-trailing-silence=2.0
"""


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("weights", type=Path)
    ask.add_argument("model", type=Path)
    said = ask.parse_args()
    for folder in ("am", "conf"):
        (said.model / folder).mkdir(parents=True, exist_ok=True)
    (said.model / "conf" / "mfcc.conf").write_text(FEATURES)
    (said.model / "conf" / "model.conf").write_text(DECODING)
    parameters, fixed = network.from_base(said.weights) if said.weights.suffix == ".mdl" else read_weights(said.weights)
    network.write(said.model / "am" / "final.mdl", parameters, fixed)
    print(f"{said.model / 'am' / 'final.mdl'}: {(said.model / 'am' / 'final.mdl').stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
