"""Switch transistor (FET) of a boost stage that keeps the mains current in shape (PFC), averaged over the switching period."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, CLEAR, HDBK217, OPEN, SHIFTED, across, put, slot, spread
from halfsplit.parts.diode import saturation
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SWITCH_FET

LEG = 1e-3  # of the drain, for its open to stand in; too small to be read [ohm]
SHARE = 0.95  # of what it takes that arrives (a boost stage of some hundred watts, recalled)
SHORTED, CROWBAR = 8.0, 5.0  # seen from the drain: its diode is short; what the transistor then is to the bulk [ohm]
KNEE, TOP = 30.0, 650.0  # [V] drain volts under which the current stops rising; where the transistor breaks down


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Takes power out of the coil's far end as a resistor would and delivers it at its drain, over its source; body diode, faults."""
    drain = s.inner("d")
    s.resistor(pins["d"], drain, LEG + v["d_open"])
    siemens = np.asarray(v["siemens"]) * (1.0 if s.powered else 0.0)
    s.mover((pins["core"], pins["g"], pins["s"]), (drain, pins["s"]), siemens=siemens, share=SHARE, knee=KNEE, top=TOP)
    s.junction(pins["s"], drain, isat=saturation(np.asarray(0.85), np.asarray(1.7)), ideality=1.7)
    s.resistor(drain, pins["s"], v["across"])
    if s.powered:
        s.resistor(drain, pins["s"], np.where(np.asarray(v["shoots"]) > 0.5, CROWBAR, CLEAR))
    s.resistor(pins["g"], pins["s"], 1.0 / (1.0 / v["gate"] + (1e-7 if s.powered else 0.0)))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Driven into a diode that is short it empties the bulk through itself, for good."""
    driven = probe.volts("g", "s").mean(1) > 0.3
    return np.asarray((now > 0.5) | (driven & (probe.looking_out("d", "s", {"across": CLEAR}) < SHORTED)), float)


FAMILY = Family(
    name="boost-fet",
    words=("boost-fet", "pfc-fet"),
    letters=(),
    pins=("d", "g", "s", "core"),
    params=(
        Param("siemens", "S", 0.015, 0.1, 1.5),
        Param("d_open", "ohm", 0.0, 0.0),
        slot("shoots"),
        across(),
        across("gate"),
    ),
    rate=0.6,
    rate_source=HDBK217 + ", silicon FET 0.11, x 5 for hard switching at line volts, as the family fet",
    ways=(
        Way("short", 0.75, SHIFTED, spread("across", 0.05, 2.0), "D-S shorted", {"cracked": 0.4, "burnt": 0.3}, "short"),
        Way("gate-short", 0.1, BENCH, spread("gate", 1.0, 500.0), "gate leaks to source", {}, "short"),
        Way("open", 0.15, SHIFTED, put("d_open", OPEN), "drain open", {"cracked": 0.3}, "open"),
    ),
    stamp=stamp,
    switching=("d", "g", "core"),
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("shoots", 0.0, settle),
    main_value=None,
    plus_minus=("d", "s"),
    aliases={"ds": ("d", "s"), "gs": ("g", "s"), "sd": ("s", "d"), "dg": ("d", "g")},
    killers=("boost diode open or slow", "sense resistor", "coil saturated or shorted turns", "mains surge"),
    test="D-S 0.4 to 0.6 V one way and OL the other, gate OL to both",
    substitute="volts, amps, watts not less; gate charge not above 1.3 times",
    cold_reads=(("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r")),
    alone_reads=(("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r")),
    symbol=SWITCH_FET,
)
