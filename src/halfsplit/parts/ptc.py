"""Resettable PTC in a low-volt line: trips on over-current, stays tripped while it is kept hot, comes back when cold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import HDBK217, OPEN, SHIFTED, put, scaled, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import PTC

COLD = 0.15  # cold ohms x hold amps [V]: 0.15 ohm of a 1 A type (makers' tables, recalled)
TRIPPED = 200.0  # tripped ohms x hold amps [V]: about a watt at 12 V of a 1 A type (common practice)
TRIPS = 2.0  # trip over hold amps (makers' tables, recalled)
KEPT_HOT = 0.02  # less power than this lets it cool [W] (bench estimate)


def _cold_ohms(v: Values) -> Array:
    return np.asarray(np.where(np.asarray(v["ohms"]) > 0, v["ohms"], COLD / np.asarray(v["amps"])))


def _ohms(v: Values) -> Array:
    new = _cold_ohms(v) * v["aged"]
    return np.asarray(np.where(np.asarray(v["tripped"]) > 0.5, np.maximum(TRIPPED / np.asarray(v["amps"]), new), new) + v["leg"])


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Its cold ohms, or those of the tripped state; unplugged it has cooled down."""
    s.resistor(pins["a"], pins["b"], _ohms(v) if s.powered else _cold_ohms(v) * v["aged"] + v["leg"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Trips where its power is above that of twice its hold amps in a new one; stays while 20 mW keep it hot."""
    watts = (probe.volts("a", "b") ** 2).mean(1) / _ohms({**v, "tripped": now})
    return np.asarray(np.where(now > 0.5, watts > KEPT_HOT, watts > (TRIPS * np.asarray(v["amps"])) ** 2 * _cold_ohms(v)), float)


FAMILY = Family(
    name="ptc",
    words=("ptc", "resettable"),
    letters=("PTC",),
    pins=("a", "b"),
    params=(
        Param("amps", "A", 1.0, 0.1, 2.0),
        Param("ohms", "ohm", 0.0, 0.0),
        Param("leg", "ohm", 0.0, 0.0),
        slot("aged", 1.0),
        slot("tripped"),
    ),
    rate=0.3,
    rate_source=HDBK217 + ", thermistor, halved: it only sits in the line",
    ways=(
        Way(
            "up",
            0.6,
            SHIFTED,
            scaled("aged", 2.0, 20.0),
            "aged upward by its trips: volts are lost, it trips too soon",
            {"burnt": 0.1},
        ),
        Way("open", 0.4, SHIFTED, put("leg", OPEN), "cracked open", {"cracked": 0.5}, "open"),
    ),
    stamp=stamp,
    shaken=0.15,
    heated=0.3,
    dies_alone=True,
    mode=Mode("tripped", 0.0, settle),
    main_value="amps",
    plus_minus=("a", "b"),
    protector=True,
    killers=("short behind it", "motor that stalls", "age of many trips"),
    test="ohms cold, ten minutes after it was last on; hot and with all the volts across it is tripped: look behind it",
    substitute="hold amps and volts equal, trip time and size the same; never a link, never more amps",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=PTC,
)
