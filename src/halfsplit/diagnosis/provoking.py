"""What provoking a fault says: tapped or flexed, warmed or cooled, and whether the fault then came or went.

Common practice: tap with an insulated rod, area first, then part; cold spray and warm air one part at a time. Tapping finds a
region and not a joint; spray chills the neighbours. All probabilities here are bench estimates.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.circuit.model import Part
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.parts import family_of
from halfsplit.parts.base import Array

MOVES, WARMS = ("tap", "flex"), ("warm", "cold")
BY_ITSELF = 0.05  # a fault that comes and goes changes just then, whatever was done
BY_CHANCE = 0.02  # something else is wrong, or nothing, and a change was seen all the same
ANSWERS = 0.7  # of a fault that is provoked that way, at its place
NEIGHBOUR = 0.35  # of that, where only a neighbour was provoked
CROWDED = 6  # pins on a net from which on it makes no neighbours: a ground goes everywhere


@dataclass(frozen=True)
class Provoked:
    """how: tap, flex, warm or cold. parts: refs; nets: where only a net was named. changed: the fault came or went with it."""

    how: str
    parts: tuple[str, ...]
    nets: tuple[str, ...]
    changed: bool


def provoked_odds(suspects: Sequence[Suspect], parts: Sequence[Part], tries: Sequence[Provoked]) -> Array:
    """(2, rows) log odds from what was provoked: of each fault were it always there (0), and were it coming and going (1)."""
    out = np.zeros((2, len(suspects)))
    for one in tries:
        steady = math.log(BY_CHANCE if one.changed else 1.0 - BY_CHANCE)
        at, beside = places(parts, one)
        for i, suspect in enumerate(suspects):
            chance = BY_CHANCE if suspect.part is None else _changes(suspect.part, one.how, at, beside)
            out[0, i] += steady
            out[1, i] += math.log(chance if one.changed else 1.0 - chance)
    return out


def places(parts: Sequence[Part], one: Provoked) -> tuple[frozenset[str], frozenset[str]]:
    """Refs of the parts that were provoked, and of their neighbours on nets that don't go everywhere."""
    at = set(one.parts) | {p.ref for p in parts for net in p.pins.values() if net in one.nets}
    on: dict[str, list[str]] = {}
    for part in parts:
        for net in part.pins.values():
            on.setdefault(net, []).append(part.ref)
    beside = {ref for refs in on.values() if len(refs) < CROWDED and at & set(refs) for ref in refs}
    return frozenset(at), frozenset(beside - at)


def _changes(part: Part, how: str, at: Collection[str], beside: Collection[str]) -> float:
    """P(it changes with this act | it is there, and comes and goes)."""
    near = 1.0 if part.ref in at else NEIGHBOUR if part.ref in beside else 0.0
    family = family_of(part)
    both = family.shaken + family.heated
    mine = (family.shaken if how in MOVES else family.heated) / both if both else 0.0
    return BY_ITSELF + (ANSWERS - BY_ITSELF) * near * mine
