"""Inrush limiter (NTC)."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values
from halfsplit.parts.common import HDBK217, OPEN, open_way
from halfsplit.parts.stamper import Stamper


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Cold ohms unplugged; warm ohms while running."""
    warm = np.where(np.asarray(v["ohms"]) < OPEN, v["hot"], 1.0) if s.powered else 1.0
    s.resistor(pins["a"], pins["b"], v["ohms"] * warm)


FAMILY = Family(
    name="ntc",
    words=("ntc", "inrush", "thermistor"),
    letters=("NTC", "RT"),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 5.0, 0.2), Param("hot", "", 0.15, 0.3)),
    rate=0.3,
    rate_source=HDBK217 + ", thermistor, halved: used as limiter only",
    ways=(open_way(1.0, HDBK217, "ohms", "limiter cracked open", cracked=0.5),),
    stamp=stamp,
    dies_alone=True,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("short behind it", "inrush"),
    test="ohms cold: 2.5 to 16",
    substitute="R25 equal, amps and energy not less",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
)
