"""Coil of a boost stage (PFC), averaged: its far end as it is while the switch is on, and its end at the drain as it is while it is off."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, OPEN, put
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

SATURATED = 1e3  # [ohm] shorted turns store next to nothing: no more than some tens of watts get through


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Winding ohms to the core node, from there to the drain only forwards: what is boosted never flows back. Unplugged, a coil."""
    if s.powered:
        s.resistor(pins["a"], pins["core"], v["ohms"] + v["a_open"] + v["turns"])
        s.junction(pins["core"], pins["b"], isat=1e-5)
    else:
        s.coil(pins["a"], pins["core"], v["henry"], v["ohms"] + v["a_open"])
        s.resistor(pins["core"], pins["b"], 1e-3)


def _turns(v: Values, u: Array) -> dict[str, Array]:
    return {"ohms": v["ohms"] * 0.3, "henry": v["henry"] * 0.01, "turns": np.full(np.shape(u), SATURATED)}


FAMILY = Family(
    name="boost-coil",
    words=("boost-coil", "pfc-coil", "pfc-choke"),
    letters=(),
    pins=("a", "b", "core"),
    params=(
        Param("ohms", "ohm", 0.2, 0.3, 2.0),
        Param("henry", "H", 300e-6, 0.2, 3.0),
        Param("a_open", "ohm", 0.0, 0.0),
        Param("turns", "ohm", 0.0, 0.0),
    ),
    rate=0.03,
    rate_source=HDBK217 + ", coil",
    ways=(
        Way("open", 0.6, HDBK338, put("a_open", OPEN), "coil open", {}, "open"),
        Way("shorted-turns", 0.4, HDBK338, _turns, "shorted turns", {"burnt": 0.4}, "short"),
    ),
    stamp=stamp,
    switching=("b", "core"),
    shaken=0.3,
    heated=0.05,
    main_value="henry",
    plus_minus=("a", "b"),
    aliases={"ab": ("a", "b")},
    killers=("switch short", "overload"),
    test="ohms; ring test against a twin",
    substitute="same part or donor; amps not less, henry equal",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    symbol=Box(("a",), ("b",), "L", ("core",)),
)
