"""Triac: blocks until its gate is driven. Beside a diac it is fired anew in each half-cycle, else it is closed or not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, across, put, slot, spread
from halfsplit.parts.stamper import NEVER, Stamper
from halfsplit.parts.symbols import TRIAC

GATE_OHMS = 150.0  # gate to main terminal 1, read cold (common practice 50 to 300)
FIRES = 0.6  # gate volts that fire it [V]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Open between its main terminals, closed (about a volt lost) while fired; gate resistance to terminal 1."""
    whole = np.asarray(v["path"]) > 0.5
    half = np.asarray(v["lost"]) != 0.0
    s.resistor(pins["t2"], pins["t1"], np.where((np.asarray(v["fired"]) > 0.5) & whole & ~half, 0.05, 1e8))
    fires = np.where(whole & (half | s.pulsed), FIRES, NEVER)
    s.latch(pins["t2"], pins["t1"], (pins["g"], pins["t1"]), fires=fires, hold=v["hold"], lost=v["lost"])
    s.resistor(pins["t2"], pins["t1"], v["across"])
    s.resistor(pins["g"], pins["t1"], GATE_OHMS)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Fired while the gate sees more than 0.6 V; what is fired by pulses latches within the cycle."""
    return np.zeros_like(now) if probe.pulsed else np.asarray(np.abs(probe.volts("g", "t1")).max(1) > FIRES, float)


def lose(v: Values, u: Array) -> dict[str, Array]:
    """Either way alike often."""
    return {"lost": np.where(np.asarray(u) < 0.5, 1.0, -1.0)}


FAMILY = Family(
    name="triac",
    words=("triac",),
    letters=(),
    pins=("t1", "t2", "g"),
    params=(Param("hold", "A", 10e-3, 0.0), slot("fired"), slot("path", 1.0), slot("lost"), across()),
    rate=0.4,
    rate_source=HDBK217 + ", thyristor, raised for motor and heater duty",
    ways=(
        Way("short", 0.85, BENCH, spread("across", 0.05, 2.0), "main terminals shorted: always on", {"cracked": 0.2}, "short"),
        Way("half-wave", 0.05, BENCH, lose, "conducts in one half-cycle only: half power, DC in the load, a motor growls", {}, "open"),
        Way("open", 0.1, BENCH, put("path", 0.0), "never fires", {}, "open"),
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
