"""The phones of a sound, read off the rows of the second listener's encoder: a few layers of convolution and 40 outputs.

Output 0 is "nothing new", the others are the phones of `lexicon.PHONES`, trained by connectionist temporal classification
(Graves et al., 2006): a text is as likely as all ways together of saying its phones in order, with "nothing new" between.
"""

import jax
import jax.numpy as jnp
import numpy as np

from .encoder import WIDE as ROWS, normal
from .lexicon import PHONES

WIDE, BLOCKS, WIDTH = 192, 4, 5
OUTPUTS = 1 + len(PHONES)
NUMBER = {phone: number for number, phone in enumerate(PHONES, 1)}


def random(seed, wide=WIDE, blocks=BLOCKS):
    chance = np.random.default_rng(seed)
    draw = lambda *shape: (chance.normal(0, 1, shape) / np.sqrt(np.prod(shape[:-1]))).astype(np.float32)
    zeros, ones = (lambda n: np.zeros(n, np.float32)), (lambda n: np.ones(n, np.float32))
    block = lambda: {"norm": ones(wide), "slide": draw(WIDTH, wide, wide), "slide_bias": zeros(wide),
                     "out": 0.3 * draw(wide, wide), "out_bias": zeros(wide)}
    return {"in": draw(ROWS, wide), "in_bias": zeros(wide), "blocks": [block() for _ in range(blocks)], "norm": ones(wide),
            "phones": draw(wide, OUTPUTS), "phones_bias": zeros(OUTPUTS)}


def forward(p, rows, drop=0.0, key=None):
    """[batch, rows, 288] -> log probabilities [batch, rows, outputs]."""
    def dropped(x, number):
        if not drop:
            return x
        kept = jax.random.bernoulli(jax.random.fold_in(key, number), 1 - drop, (x.shape[0], 1, x.shape[2]))
        return x * kept / (1 - drop)

    x = dropped(rows, 0) @ p["in"] + p["in_bias"]
    for number, of in enumerate(p["blocks"], 1):
        y = normal(x, of["norm"])
        y = jax.lax.conv_general_dilated(y, of["slide"], (1,), "SAME", dimension_numbers=("NWC", "WIO", "NWC")) + of["slide_bias"]
        x = x + dropped(jax.nn.gelu(y, approximate=False), number) @ of["out"] + of["out_bias"]
    return jax.nn.log_softmax(normal(x, p["norm"]) @ p["phones"] + p["phones_bias"])
