"""Optocoupler with triac output; only its LED is drawn through."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, put, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import OPTO_TRIAC


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """LED with a transistor side that never conducts; the triac side is open."""
    s.opto(pins["a"], pins["k"], pins["t1"], pins["t2"], ctr=0.0, led=v["led"])
    s.resistor(pins["t1"], pins["t2"], 1e9)


FAMILY = Family(
    name="opto-triac",
    words=("opto-triac",),
    letters=(),
    pins=("a", "k", "t1", "t2"),
    params=(slot("led", 1.0),),
    rate=0.15,
    rate_source=HDBK217,
    ways=(Way("led-open", 1.0, HDBK338, put("led", 0.0), "LED open", {}, "open"),),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    sides=(("a", "k"), ("t1", "t2")),
    plus_minus=("a", "k"),
    aliases={"12": ("a", "k"), "64": ("t2", "t1"), "ak": ("a", "k")},
    killers=("shorted triac",),
    test="LED 1.0 to 1.3 V",
    substitute="same type: random or zero-cross are not interchangeable",
    cold_reads=(("a", "k", "d"),),
    alone_reads=(("a", "k", "d"),),
    symbol=OPTO_TRIAC,
)
