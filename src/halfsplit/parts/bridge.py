"""Bridge rectifier: four diodes in one body."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, across, put, slot, spread
from halfsplit.parts.diode import saturation
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import BRIDGE

LEGS = (("~1", "+"), ("~2", "+"), ("-", "~1"), ("-", "~2"))


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Four junctions, each with its own way of failing."""
    isat = saturation(v["drop"], v["ideality"])
    for i, (a, k) in enumerate(LEGS, 1):
        s.junction(pins[a], pins[k], isat=v[f"path{i}"] * isat, ideality=v["ideality"])
        s.resistor(pins[a], pins[k], v[f"across{i}"])


FAMILY = Family(
    name="bridge",
    words=("bridge",),
    letters=("BR", "DB"),
    pins=("~1", "~2", "+", "-"),
    params=(
        Param("drop", "V", 0.93, 0.05),
        Param("ideality", "", 1.9, 0.05),
        *(p for i in range(1, 5) for p in (slot(f"path{i}", 1.0), across(f"across{i}"))),
    ),
    rate=0.3,
    rate_source=HDBK217 + ", four power diodes",
    ways=(
        *(
            Way(
                f"short-{i}",
                0.17,
                HDBK338,
                spread(f"across{i}", 0.05, 2.0),
                f"leg {a} to {k} shorted",
                {"cracked": 0.3, "burnt": 0.3},
                "short",
            )
            for i, (a, k) in enumerate(LEGS, 1)
        ),
        *(
            Way(f"open-{i}", 0.08, HDBK338, put(f"path{i}", 0.0), f"leg {a} to {k} open", {"cracked": 0.2}, "open")
            for i, (a, k) in enumerate(LEGS, 1)
        ),
    ),
    stamp=stamp,
    shaken=0.15,
    heated=0.2,
    dies_alone=False,
    plus_minus=("+", "-"),
    killers=("surge", "shorted bulk", "limiter missing"),
    aliases={"1+": ("~1", "+"), "2+": ("~2", "+"), "-1": ("-", "~1"), "-2": ("-", "~2"), "ac": ("~1", "~2"), "~": ("~1", "~2")},
    test="four diode readings, then both AC legs",
    substitute="volts 600 to 1000, amps and surge not less",
    cold_reads=(*((a, k, "d") for a, k in LEGS), ("+", "-", "d"), ("~1", "~2", "r")),
    alone_reads=tuple((a, k, "d") for a, k in LEGS) + tuple((k, a, "r") for a, k in LEGS),
    symbol=BRIDGE,
)
