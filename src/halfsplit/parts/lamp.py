"""Tungsten lamp, taken at its hot ohms while powered and at a thirteenth of them cold."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, OPEN, put
from halfsplit.parts.stamper import Stamper


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Hot or cold filament (R hot over R cold about 13, common practice); hot it has its written ohms, or volts^2/watts."""
    marked = np.asarray(v["volts"]) ** 2 / np.asarray(v["watts"])
    hot = np.where(np.asarray(v["ohms"]) > 0, v["ohms"], marked)
    s.resistor(pins["a"], pins["b"], (hot if s.powered else hot / 13.0) + v["leg"])


FAMILY = Family(
    name="lamp",
    words=("lamp", "bulb"),
    letters=("LA",),
    pins=("a", "b"),
    params=(
        Param("ohms", "ohm", 0.0, 0.0),
        Param("volts", "V", 230.0, 0.0),
        Param("watts", "W", 60.0, 0.08, 2.0),
        Param("leg", "ohm", 0.0, 0.0),
    ),
    rate=4.0,
    rate_source=HDBK217 + ", incandescent AC",
    ways=(Way("open", 1.0, HDBK217, put("leg", OPEN), "filament open", {"burnt": 0.5}, "open"),),
    stamp=stamp,
    dies_alone=True,
    visible=True,
    main_value="watts",
    plus_minus=("a", "b"),
    killers=("age",),
    test="ohms",
    substitute="same volts, watts and cap",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
)
