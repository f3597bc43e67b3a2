"""Circuits at random: any parts, any nets, some isolated, some legs loose."""

from __future__ import annotations

import random

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.parts import FAMILIES

UNIT = Unit("random unit", 230.0, 50.0, "II", 40.0)


def random_circuit(seed: int) -> Circuit:
    r = random.Random(seed)
    count = r.choice((1, 2, 3, 5, 8, 12, 16, 22))
    isolated = r.random() < 0.5
    hot = ["L", "N", "hot-", *(f"h{i}" for i in range(max(1, count // 3)))]
    cold = ["0V", *(f"c{i}" for i in range(max(1, count // 3)))]
    names = [n for n, f in FAMILIES.items() if not f.outlet]
    parts: list[Part] = []
    if r.random() < 0.8:
        parts.append(Part("mains", "mains", {"L": "L", "N": "N"}, {"volts": 230.0}, assumed=True))
    while len(parts) < count:
        family = FAMILIES[r.choice(names)]
        ref = f"X{len(parts)}"
        pool = cold if isolated and r.random() < 0.5 else hot
        sides = family.sides or (family.pins,)
        pins: dict[str, str] = {}
        for k, side in enumerate(sides):
            here = (cold if pool is hot else hot) if k and isolated else pool
            for pin in side:
                pins[pin] = f"{ref}/{pin}" if r.random() < 0.08 else r.choice(here)
        if r.random() < 0.1:
            pins["extra <&\"'"] = r.choice(pool)
        parts.append(
            Part(ref, family.name, pins, assumed=r.random() < 0.5, doubts=frozenset({"part"} if r.random() < 0.1 else ()))
        )
    grounds = {"hot": r.choice(("hot-", "N"))} | ({"cold": "0V"} if isolated else {})
    return Circuit(UNIT, tuple(parts), grounds, frozenset(cold) if isolated else frozenset())
