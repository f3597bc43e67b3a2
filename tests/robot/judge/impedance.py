"""Would a 10 Mohm meter move this pair? A resistive estimate of what stands between two nets of a powered board.

The deck's own lines are read back: resistors, windings and sources as they are, junctions and current expressions by their
slope over the last cycle. Capacitors are open (a DC reading waits for them). Couplings between branches are left out, which
errs towards fitting the meter for real.
"""

from __future__ import annotations

import math
import re
from types import CodeType

import numpy as np

from .deck import VT
from .powered import Piece
from .spice import Array

SHORT, LEAK = 1e4, 1e-12  # conductance of a source or a coil; of every node to node 0 [S]
SAMPLES = 16
CALL = re.compile(r"\bv\((\w+)(?:,(\w+))?\)")
BRANCH = re.compile(r"\bi\((\w+)\)")
_KNOWN = {"min": min, "max": max, "abs": abs, "tanh": math.tanh, "sqrt": math.sqrt, "exp": math.exp, "ln": math.log, "__builtins__": {}}


def ohms_between(piece: Piece, red: str, black: str) -> float:
    """Thevenin ohms seen by the meter, roughly [ohm]."""
    index, conductance = _matrix(piece)
    a, b = (index[piece.deck.nodes[n]] for n in (red, black))
    inject = np.zeros(len(index))
    inject[a] += 1.0
    inject[b] -= 1.0
    keep = np.array([k for n, k in index.items() if n != "0"])
    volts = np.zeros(len(index))
    volts[keep] = np.linalg.solve(conductance[np.ix_(keep, keep)], inject[keep])
    return float(volts[a] - volts[b])


def _matrix(piece: Piece) -> tuple[dict[str, int], Array]:
    branches = _branches(piece)
    index: dict[str, int] = {"0": 0}
    for a, b, _ in branches:
        index.setdefault(a, len(index))
        index.setdefault(b, len(index))
    for node in piece.deck.nodes.values():
        index.setdefault(node, len(index))
    g = np.zeros((len(index), len(index)))
    for a, b, s in branches:
        i, j = index[a], index[b]
        g[i, i] += s
        g[j, j] += s
        g[i, j] -= s
        g[j, i] -= s
    g[np.diag_indices_from(g)] += LEAK
    return index, g


def _branches(piece: Piece) -> list[tuple[str, str, float]]:
    models = {w[1]: w for w in (t.split() for t in piece.deck.lines) if w[0] == ".model"}
    at = _moments(piece)
    found: list[tuple[str, str, float]] = [(a, b, SHORT) for a, b in piece.deck.coils]
    for line in piece.deck.lines:
        name, *words = line.split()
        if name[0] == "R":
            found.append((words[0], words[1], 1.0 / float(words[2])))
        elif name[0] in "LV":
            found.append((words[0], words[1], SHORT))
        elif name[0] == "D":
            found.append((words[0], words[1], _slope_of_junction(piece, words, models[words[2]], at)))
        elif name[0] == "Q":
            found += _transistor(piece, words, models[words[4]], at)
        elif name[0] == "M":
            found.append((words[0], words[2], _channel(piece, words, models[words[4]], at)))
        elif name[0] == "B" and words[2].startswith("V="):
            found.append((words[0], words[1], SHORT))
        elif name[0] == "B" and words[2].startswith("I=") and "hold" not in words[2]:
            found.append((words[0], words[1], _slope(piece, words, at)))
    return found


def _moments(piece: Piece) -> Array:
    stop = piece.wave.time[-1]
    return np.linspace(max(piece.wave.time[0], stop - 0.02), stop, SAMPLES)


def _drop(piece: Piece, a: str, b: str, at: Array) -> Array:
    return np.interp(at, piece.wave.time, piece.wave.of(a) - piece.wave.of(b))


def _parameter(model: list[str], name: str) -> float:
    text = " ".join(model)
    return float(re.search(rf"\b{name}=([-+0-9.eE]+)", text).group(1))  # type: ignore[union-attr]


def _slope_of_junction(piece: Piece, words: list[str], model: list[str], at: Array) -> float:
    isat, n = _parameter(model, "IS"), _parameter(model, "N")
    v = np.clip(_drop(piece, words[0], words[1], at) / (n * VT), -60.0, 60.0)
    return float(np.minimum(isat / (n * VT) * np.exp(v), 1e3).mean())


def _transistor(piece: Piece, words: list[str], model: list[str], at: Array) -> list[tuple[str, str, float]]:
    sign = 1.0 if "NPN" in model[2] else -1.0
    vbe = np.clip(sign * _drop(piece, words[1], words[2], at) / VT, -60.0, 40.0)
    vbc = np.clip(sign * _drop(piece, words[1], words[0], at) / VT, -60.0, 40.0)
    scale = 1e-14 / VT
    base = float((scale * np.exp(vbe) / _parameter(model, "BF")).mean())
    return [(words[1], words[2], base), (words[1], words[0], float((scale * np.exp(vbc) / 2.0).mean())),
            (words[0], words[2], float((scale * np.exp(vbc)).mean()))]


def _channel(piece: Piece, words: list[str], model: list[str], at: Array) -> float:
    """Slope of a square-law channel from drain to source, KP (Vgd - VTO) where it is not pinched off, mean over the cycle."""
    sign = 1.0 if model[2].startswith("NMOS") else -1.0
    over = sign * (_drop(piece, words[1], words[0], at) - _parameter(model, "VTO"))
    return float((_parameter(model, "KP") * np.maximum(over, 0.0)).mean())


def _slope(piece: Piece, words: list[str], at: Array) -> float:
    """d(current)/d(volts across it), mean over the cycle, lifting either end, not below zero."""
    a, b, text = words[0], words[1], words[2][2:].replace("^", "**")
    text = BRANCH.sub(r"i('\1')", CALL.sub(lambda m: f"v('{m.group(1)}','{m.group(2) or '0'}')", text))
    code = compile(text, "<deck>", "eval")
    slopes: list[tuple[float, str]] = []
    for t in at:
        for lifted, sign in ((a, 1.0), (b, -1.0)):
            if lifted != "0":
                up, down = (_value(piece, code, float(t), lifted, lift) for lift in (1e-3, -1e-3))
                slopes.append((sign * (up - down) / 2e-3, lifted))
    return max(0.0, *(float(np.mean([s for s, n in slopes if n == node])) for node in {n for _, n in slopes}))


def _value(piece: Piece, code: CodeType, moment: float, lifted: str, lift: float) -> float:
    """The expression's amps at a moment, with one node lifted."""

    def volt(node: str) -> float:
        return float(np.interp(moment, piece.wave.time, piece.wave.of(node))) + (lift if node == lifted else 0.0)

    scope = {**_KNOWN, "v": lambda p, q: volt(p) - volt(q),
             "i": lambda s: float(np.interp(moment, piece.wave.time, piece.wave.amps[s.lower()]))}
    return float(eval(code, scope))  # the text is this package's own
