"""Triac: blocks until its gate is driven."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, across, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import TRIAC

GATE_OHMS = 150.0  # gate to main terminal 1, read cold (common practice 50 to 300)
FIRES = 0.6  # gate volts that fire it [V]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Open between its main terminals, closed (about a volt lost) while fired; gate resistance to terminal 1."""
    fired = np.asarray(v["fired"]) * v["path"] > 0.5
    s.resistor(pins["t2"], pins["t1"], np.where(fired, 0.05, 1e8))
    s.resistor(pins["t2"], pins["t1"], v["across"])
    s.resistor(pins["g"], pins["t1"], GATE_OHMS)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Fired while the gate sees more than 0.6 V."""
    return np.asarray(np.abs(probe.volts("g", "t1")).max(1) > FIRES, float)


FAMILY = Family(
    name="triac",
    words=("triac",),
    letters=(),
    pins=("t1", "t2", "g"),
    params=(slot("fired"), slot("path", 1.0), across()),
    rate=0.4,
    rate_source=HDBK217 + ", thyristor, raised for motor and heater duty",
    ways=(
        Way("short", 0.85, BENCH, spread("across", 0.05, 2.0), "main terminals shorted: always on", {"cracked": 0.2}, "short"),
        Way("open", 0.15, BENCH, put("path", 0.0), "never fires", {}, "open"),
    ),
    stamp=stamp,
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("fired", 0.0, settle),
    plus_minus=("t2", "t1"),
    aliases={"21": ("t2", "t1"), "t2t1": ("t2", "t1"), "g1": ("g", "t1")},
    killers=("shorted motor or lamp", "no snubber", "no heatsink"),
    test="terminals 2 to 1 OL both ways; gate to terminal 1 tens to hundreds of ohms",
    substitute="volts 600 or 800 at 230 V, amps not less, gate current not more, isolated tab as original",
    cold_reads=(("t2", "t1", "r"), ("g", "t1", "r")),
    alone_reads=(("t2", "t1", "r"), ("g", "t1", "r")),
    symbol=TRIAC,
)
