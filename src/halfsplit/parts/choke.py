"""Common-mode choke in both lines; at mains frequency two small resistances."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, OPEN, put
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import CHOKE


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """One winding in each line."""
    s.resistor(pins["a1"], pins["a2"], v["ohms"] + v["a_open"])
    s.resistor(pins["b1"], pins["b2"], v["ohms"] + v["b_open"])


FAMILY = Family(
    name="choke",
    words=("choke", "line-filter"),
    letters=("LF", "L"),
    pins=("a1", "a2", "b1", "b2"),
    params=(Param("ohms", "ohm", 0.3, 0.3), Param("a_open", "ohm", 0.0, 0.0), Param("b_open", "ohm", 0.0, 0.0)),
    rate=0.04,
    rate_source=HDBK217,
    ways=(
        Way("a-open", 0.5, HDBK338, put("a_open", OPEN), "winding in the live line open", {}, "open"),
        Way("b-open", 0.5, HDBK338, put("b_open", OPEN), "winding in the neutral line open", {}, "open"),
    ),
    stamp=stamp,
    shaken=0.3,
    heated=0.02,
    sides=(("a1", "a2"), ("b1", "b2")),
    main_value="ohms",
    plus_minus=("a1", "a2"),
    aliases={"a": ("a1", "a2"), "b": ("b1", "b2")},
    killers=("overload",),
    test="ohms of each winding",
    substitute="same amps, henry and creepage",
    cold_reads=(("a1", "a2", "r"), ("b1", "b2", "r")),
    alone_reads=(("a1", "a2", "r"), ("b1", "b2", "r")),
    symbol=CHOKE,
)
