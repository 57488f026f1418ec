"""Averages the weights of networks that came from one another by training, which hears better than each of them.

    python -m listener.mean OUT.npz 0.45=second.npz 0.25=first.npz 0.3=../listener-en/am/final.mdl

Each is a `weights.npz` or a final.mdl with its share; shares are divided by their sum. All must be of one size and have the
same batch normalisations: networks that were not trained one from another cannot be averaged.
"""

import argparse
from pathlib import Path

import jax
import numpy as np

from . import network
from .train import read_weights, write_weights


def mean(parts):
    """[(share, (parameters, fixed))] -> (parameters, fixed). Raises SystemExit if they are not of one kind."""
    total = sum(share for share, _ in parts)
    if not total > 0 or any(share < 0 for share, _ in parts):
        raise SystemExit("shares must not be negative, and one must be more than nothing")
    fixed = parts[0][1][1]
    sizes = jax.tree.map(np.shape, (parts[0][1][0], fixed))
    for number, (_, (parameters, other)) in enumerate(parts[1:], 2):
        if jax.tree.map(np.shape, (parameters, other)) != sizes:
            raise SystemExit(f"network {number} is of another size than the first")
        if not all(np.allclose(x, y, rtol=1e-3, atol=1e-4) for name in fixed for x, y in zip(fixed[name], other[name])):
            raise SystemExit(f"network {number} has other batch normalisations than the first: neither came from the other")
    weigh = lambda *leaves: sum(share / total * leaf for (share, _), leaf in zip(parts, leaves))
    return jax.tree.map(weigh, *(parameters for _, (parameters, _) in parts)), fixed


def read(said):
    share, equals, path = said.partition("=")
    try:
        share = float(share)
    except ValueError:
        equals = ""
    if not equals:
        raise SystemExit(f"{said}: expected SHARE=FILE, as 0.5=weights.npz")
    path = Path(path)
    return share, read_weights(path) if path.suffix == ".npz" else network.from_base(path)


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("out", type=Path)
    ask.add_argument("parts", nargs="+", metavar="SHARE=FILE")
    said = ask.parse_args()
    write_weights(said.out, *mean([read(part) for part in said.parts]))
    print(f"{said.out}: {len(said.parts)} networks")


if __name__ == "__main__":
    main()
