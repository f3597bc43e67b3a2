"""Tungsten lamp, taken at its hot ohms while powered and at a thirteenth of them cold."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Param, Values
from halfsplit.parts.common import HDBK217, open_way
from halfsplit.parts.stamper import Stamper


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Hot or cold filament (R hot over R cold about 13, common practice)."""
    s.resistor(pins["a"], pins["b"], v["ohms"] if s.powered else v["ohms"] / 13.0)


FAMILY = Family(
    name="lamp",
    words=("lamp", "bulb"),
    letters=("LA",),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 880.0, 0.08, 2.0),),
    rate=4.0,
    rate_source=HDBK217 + ", incandescent AC",
    ways=(open_way(1.0, HDBK217, "ohms", "filament open", burnt=0.5),),
    stamp=stamp,
    dies_alone=True,
    visible=True,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("age",),
    test="ohms",
    substitute="same volts, watts and cap",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
)
