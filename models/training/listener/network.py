"""The network: factored time-delay layers (TDNN-F), as Kaldi's small chain models have them.

Fifteen layers. The first joins three frames; each other one goes through a narrow middle and is added to what came in
(times 0.66). After layer 5 every third frame is kept, so there is an output every 30 ms. Batch normalisations keep the
statistics of the base network: they are fixed scales here, which the layers after them learn to live with.

`early` layers look only back (their block reads the two frames before instead of one on each side): each saves 30 ms
of waiting for sound to come, and costs 30 ms of context ahead.
"""

import jax
import jax.numpy as jnp
import numpy as np

from . import kaldi
from .phones import BASE, OUTPUTS, contexts_of, tuples

EPSILON, BYPASS = 1e-3, 0.66
STEP = {**{layer: 1 for layer in (2, 3, 4)}, 5: 0, **{layer: 3 for layer in range(6, 16)}}
EARLY = (6, 8, 10, 12, 14)


def context(early=EARLY):
    """(left, right) frames that an output needs around its own."""
    ahead = 1 + sum(STEP.values())
    saved = sum(STEP[layer] for layer in early)
    return ahead + saved, ahead - saved


def from_base(path, seed=0):
    """(parameters, fixed) with the weights of the base network, its i-vector folded away, and new outputs; or, if the file
    is one that `write` made, just those that are in it."""
    c = kaldi.read_components(path)
    if "lda" not in c:
        return _from_own(c)
    stats = lambda name: (c[name]["<StatsMean>"], c[name]["<StatsVar>"])
    linear, bias = c["tdnn1.affine"]["<LinearParams>"], c["tdnn1.affine"]["<BiasParams>"]
    # The base has 40 MFCC of three frames and an i-vector in, through an LDA. The i-vector is taken as zero.
    lda, lda_bias = c["lda"]["<LinearParams>"], c["lda"]["<BiasParams>"]
    parameters = {"1": {"aff": linear @ lda[:, :120], "bias": linear @ lda_bias + bias}}
    fixed = {"1": stats("tdnn1.batchnorm")}
    for layer in STEP:
        name = f"tdnnf{layer}"
        parameters[str(layer)] = {"lin": c[f"{name}.linear"]["<LinearParams>"],
                                  "aff": c[f"{name}.affine"]["<LinearParams>"],
                                  "bias": c[f"{name}.affine"]["<BiasParams>"]}
        fixed[str(layer)] = stats(f"{name}.batchnorm")
    parameters["last"] = {"lin": c["prefinal-l"]["<Params>"], "aff": c["prefinal-chain.affine"]["<LinearParams>"],
                          "bias": c["prefinal-chain.affine"]["<BiasParams>"], "out": c["prefinal-chain.linear"]["<Params>"]}
    fixed["last"], fixed["out"] = stats("prefinal-chain.batchnorm1"), stats("prefinal-chain.batchnorm2")
    return with_new_outputs(parameters, fixed, seed), fixed


def with_new_outputs(parameters, fixed, seed=0):
    """The same network, knowing no phone: small random weights in its last layer."""
    start = np.random.default_rng(seed).normal(0, 0.02, (OUTPUTS, len(fixed["out"][0]))).astype(np.float32)
    return {**parameters, "output": {"aff": start, "bias": np.zeros(OUTPUTS, np.float32)}}


def _from_own(c):
    whole = lambda name: {"aff": c[name]["<LinearParams>"], "bias": c[name]["<BiasParams>"]}
    stats = lambda name: (c[name]["<StatsMean>"], c[name]["<StatsVar>"])
    parameters, fixed = {"1": whole("tdnn1.affine")}, {"1": stats("tdnn1.batchnorm")}
    for layer in STEP:
        name = f"tdnnf{layer}"
        parameters[str(layer)] = {"lin": c[f"{name}.linear"]["<LinearParams>"], **whole(f"{name}.affine")}
        fixed[str(layer)] = stats(f"{name}.batchnorm")
    parameters["last"] = {"lin": c["prefinal-l"]["<LinearParams>"], **whole("prefinal.affine"),
                          "out": c["prefinal.linear"]["<LinearParams>"]}
    fixed["last"], fixed["out"] = stats("prefinal.batchnorm1"), stats("prefinal.batchnorm2")
    parameters["output"] = whole("output.affine")
    return parameters, fixed


def with_contexts(parameters):
    """The same network, with room to learn how a phone sounds after each other one: to the outputs of a phone comes what the
    phone before it changes, which is nothing so far. Contexts that are never seen so keep the plain phone's outputs."""
    count = OUTPUTS * len(BASE)
    inner = parameters["output"]["aff"].shape[1]
    nothing = {"aff": np.zeros((count, inner), np.float32), "bias": np.zeros(count, np.float32)}
    return {**parameters, "context": nothing}


def whole_output(parameters):
    """The output layer as one: what contexts change added to the outputs of the phones."""
    output, context = parameters["output"], parameters.get("context")
    if context is None:
        return output
    times = len(context["bias"]) // len(output["bias"])
    return {"aff": np.tile(output["aff"], (times, 1)) + context["aff"], "bias": np.tile(output["bias"], times) + context["bias"]}


def random(wide, narrow, seed=0):
    """A network of any width from nothing, for tests and for trying other sizes."""
    chance = np.random.default_rng(seed)
    draw = lambda rows, columns, gain=1.0: chance.normal(0, gain * columns ** -0.5, (rows, columns)).astype(np.float32)
    zeros = lambda size: np.zeros(size, np.float32)
    plain = lambda size: (zeros(size), np.ones(size, np.float32))
    parameters, fixed = {"1": {"aff": draw(wide, 120, 0.1), "bias": zeros(wide)}}, {"1": plain(wide)}
    for layer, step in STEP.items():
        times = 2 if step else 1
        parameters[str(layer)] = {"lin": draw(narrow, wide * times), "aff": draw(wide, narrow * times, 1.4),
                                  "bias": zeros(wide)}
        fixed[str(layer)] = plain(wide)
    parameters["last"] = {"lin": draw(narrow, wide), "aff": draw(wide, narrow, 1.4), "bias": zeros(wide),
                          "out": draw(narrow, wide)}
    fixed["last"], fixed["out"] = plain(wide), plain(narrow)
    parameters["output"] = {"aff": draw(OUTPUTS, narrow, 0.1), "bias": zeros(OUTPUTS)}
    return parameters, fixed


def grown(parameters, fixed, narrow, seed=0):
    """The same network with a wider narrow middle: what it computes is the same, until it is trained."""
    chance = np.random.default_rng(seed)
    larger = dict(parameters)
    for layer, step in STEP.items():
        of, times = parameters[str(layer)], 2 if step else 1
        had = len(of["lin"])
        more = chance.normal(0, of["lin"].std(), (narrow - had, of["lin"].shape[1])).astype(np.float32)
        parts = np.split(of["aff"], times, axis=1)
        nothing = np.zeros((len(of["aff"]), narrow - had), np.float32)
        larger[str(layer)] = {**of, "lin": np.concatenate([of["lin"], more]),
                              "aff": np.concatenate([part for own in parts for part in (own, nothing)], axis=1)}
    return larger, fixed


def _pair(x):
    return jnp.concatenate([x[:, :-1], x[:, 1:]], -1)


def forward(parameters, fixed, frames, early=EARLY, drop=0.0, key=None):
    """[batch, left + T + right, 40] -> [batch, ceil(T / 3), outputs]; `left` and `right` from `context`."""
    def normal(x, name):
        mean, var = fixed[name]
        x = (jax.nn.relu(x) if name != "out" else x) - mean
        return x * jax.lax.rsqrt(jnp.asarray(var) + EPSILON)

    def dropped(x, number):  # Kaldi's continuous dropout, one draw for all times
        if not drop:
            return x
        draw = jax.random.uniform(jax.random.fold_in(key, number), (x.shape[0], 1, x.shape[2]), minval=-1, maxval=1)
        return x * (1 + 2 * drop * draw)

    p = parameters["1"]
    x = jnp.concatenate([frames[:, :-2], frames[:, 1:-1], frames[:, 2:]], -1)
    x = dropped(normal(x @ p["aff"].T + p["bias"], "1"), 1)
    for layer, step in STEP.items():
        p, before = parameters[str(layer)], x
        if step:
            y = _pair(_pair(x) @ p["lin"].T) @ p["aff"].T + p["bias"]
            before = x[:, 2:] if layer in early else x[:, 1:-1]
        else:
            y = x @ p["lin"].T @ p["aff"].T + p["bias"]
        x = BYPASS * before + dropped(normal(y, str(layer)), layer)
        if layer == 5:
            x = x[:, ::3]
    p = parameters["last"]
    x = normal(x @ p["lin"].T @ p["aff"].T + p["bias"], "last")
    x = normal(x @ p["out"].T, "out")
    outputs = x @ parameters["output"]["aff"].T + parameters["output"]["bias"]
    if "context" not in parameters:
        return outputs
    p = parameters["context"]
    return jnp.tile(outputs, len(p["bias"]) // outputs.shape[-1]) + x @ p["aff"].T + p["bias"]


def padded(frames, early=EARLY):
    """With the first and the last frame repeated for the context."""
    left, right = context(early)
    right += 2  # so that the frames left over after division by three have their context as well
    return jnp.concatenate([jnp.repeat(frames[:, :1], left, 1), frames, jnp.repeat(frames[:, -1:], right, 1)], 1)


def write(path, parameters, fixed, early=EARLY):
    """As Kaldi's final.mdl."""
    config, components = ["input-node name=input dim=40"], []
    p = jax.tree.map(np.asarray, parameters)
    wide = len(fixed["1"][0])

    def node(name, source, writing):
        config.append(f"component-node name={name} component={name} input={source}")
        components.append((name, writing))

    def normal(name, source, stats):
        node(name, source, lambda w: kaldi.batch_norm(w, *stats, EPSILON))

    node("tdnn1.affine", "Append(Offset(input, -1), input, Offset(input, 1))",
         lambda w: kaldi.affine(w, p["1"]["aff"], p["1"]["bias"]))
    node("tdnn1.relu", "tdnn1.affine", lambda w: kaldi.relu(w, wide))
    normal("tdnn1.batchnorm", "tdnn1.relu", fixed["1"])
    before = "tdnn1.batchnorm"
    for layer, step in STEP.items():
        name, of = f"tdnnf{layer}", p[str(layer)]
        first, second = ([-2 * step, -step] if layer in early else [-step, 0], [0, step]) if step else ([0], [0])
        node(f"{name}.linear", before, lambda w, of=of, at=first: kaldi.tdnn(w, at, of["lin"], None))
        node(f"{name}.affine", f"{name}.linear", lambda w, of=of, at=second: kaldi.tdnn(w, at, of["aff"], of["bias"]))
        node(f"{name}.relu", f"{name}.affine", lambda w: kaldi.relu(w, wide))
        normal(f"{name}.batchnorm", f"{name}.relu", fixed[str(layer)])
        node(f"{name}.noop", f"Sum(Scale({BYPASS}, {before}), {name}.batchnorm)", lambda w: kaldi.pass_on(w, wide))
        before = f"{name}.noop"
    last, output, none = p["last"], whole_output(p), lambda size: np.zeros(size, np.float32)
    node("prefinal-l", before, lambda w: kaldi.affine(w, last["lin"], none(len(last["lin"]))))
    node("prefinal.affine", "prefinal-l", lambda w: kaldi.affine(w, last["aff"], last["bias"]))
    node("prefinal.relu", "prefinal.affine", lambda w: kaldi.relu(w, wide))
    normal("prefinal.batchnorm1", "prefinal.relu", fixed["last"])
    node("prefinal.linear", "prefinal.batchnorm1", lambda w: kaldi.affine(w, last["out"], none(len(last["out"]))))
    normal("prefinal.batchnorm2", "prefinal.linear", fixed["out"])
    node("output.affine", "prefinal.batchnorm2", lambda w: kaldi.affine(w, output["aff"], output["bias"]))
    config.append("output-node name=output input=output.affine objective=linear")
    kaldi.write_model(path, tuples(contexts_of(len(output["bias"]))), config, components, *context(early))
