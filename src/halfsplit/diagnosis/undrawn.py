"""What nobody has drawn: an unknown resistance from a net to its 0 V, or between two nets that share a part.

One more explanation for each such place, solved like any other. They name where to look, which "something not on the sheet" alone
can't. An undrawn open is not among them: it reads like the drawn part beside it being open.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.outlook import Row
from halfsplit.diagnosis.suspects import Suspect, not_there
from halfsplit.parts import family_of
from halfsplit.parts.base import Array, Values, Way

LEAST, DECADES = 0.1, 6.0  # it may be anything from a tenth of an ohm to 100 kohm, every decade as likely (bench estimate)


@dataclass(frozen=True)
class Site:
    """place: in words. part: the undrawn resistance. suspect: the explanation that it is there."""

    place: str
    part: Part
    suspect: Suspect


def _there(values: Values, u: Array) -> dict[str, Array]:
    return {"ohms": LEAST * 10.0 ** (DECADES * np.asarray(u))}


WAY = Way("there", 1.0, "bench estimate", _there, "something that is not on the sheet", kind="short")


def sites(circuit: Circuit) -> tuple[Site, ...]:
    """Every place worth a thought: each net against the 0 V of its side, each two nets of one side that a part joins."""
    islands = islands_of(circuit)
    grounds = {side: net for side, net in circuit.grounds.items() if net in islands}
    ends: dict[frozenset[str], tuple[str, str]] = {}
    for net in circuit.nets:
        ground = grounds.get(islands[net])
        if ground and ground != net:
            ends[frozenset((net, ground))] = (net, ground)
    for part in circuit.parts:
        if family_of(part).outlet:
            continue
        for a, b in itertools.combinations(sorted(set(part.pins.values())), 2):
            # What switches is averaged by the solver: a bridge between two such nets would be no sense in it.
            if islands.get(a) == islands.get(b) and not {a, b} <= circuit.switching:
                ends.setdefault(frozenset((a, b)), (a, b))
    return tuple(_site(a, b) for a, b in ends.values())


def _site(a: str, b: str) -> Site:
    place = f"{a} to {b}"
    part = not_there(f"undrawn {place}", a, b)
    return Site(place, part, Suspect(Row("", f"undrawn {place}", 0.0, f"something not on the sheet from {place}"), part, WAY))
