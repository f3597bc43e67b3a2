"""NTC thermistor: inrush limiter or, of a kilohm and more, temperature sensor."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values
from halfsplit.parts.common import HDBK217, open_way, wrong_value
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import NTC

SENSOR = 1e3  # from here on it senses, and doesn't heat itself [ohm] (common practice: limiters 2.5 to 50, sensors 5k to 100k)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Cold ohms unplugged; a limiter has its warm ohms while running, a sensor those of the room."""
    warm = np.where(np.asarray(v["ohms"]) < SENSOR, v["hot"], 1.0) if s.powered else 1.0
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
    wrong=wrong_value("ohms", 1.8, 12.0, "ohms"),
    stamp=stamp,
    shaken=0.2,
    heated=0.15,
    dies_alone=True,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("short behind it", "inrush"),
    test="ohms cold: a limiter 2.5 to 16; a sensor its marking at 25 C, less when held in the hand",
    substitute="R25 equal, amps and energy not less",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    symbol=NTC,
)
