"""Mains lead and plug pin."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Param, Values
from halfsplit.parts.common import BENCH, open_way
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import CORD


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """A wire with its resistance."""
    s.resistor(pins["a"], pins["b"], v["ohms"])


FAMILY = Family(
    name="lead",
    words=("lead", "cord", "plug"),
    letters=("W",),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 0.05, 0.3),),
    rate=0.05,
    rate_source=BENCH,
    ways=(open_way(1.0, BENCH, "ohms", "lead broken inside, usually at the plug or the strain relief"),),
    stamp=stamp,
    shaken=0.5,
    heated=0.02,
    main_value="ohms",
    plus_minus=("a", "b"),
    test="ohms from plug pin to the board while the lead is bent along its length; below 1 ohm",
    substitute="same cross-section or more, same class, with earth where it had one",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    symbol=CORD,
)
