"""Thyristor (SCR): blocks until its gate is driven, then conducts one way and holds while current flows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, across, peak_volts, put, slot, spread
from halfsplit.parts.diode import saturation
from halfsplit.parts.stamper import VT, Stamper
from halfsplit.parts.symbols import THYRISTOR
from halfsplit.parts.triac import FIRES

DROP, IDEALITY = 1.1, 1.9  # fired, at 1 A [V] (common practice: 1.0 to 1.5)
GATE_DROP, GATE_IDEALITY, GATE_AMPS = 0.7, 1.5, 10e-3  # gate to cathode (common practice 0.6 to 0.8 V on a diode test)
GATE_SERIES, GATE_SHUNT = 10.0, 10e3  # [ohm]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Blocking, or a junction from anode to cathode while fired; the gate is a junction to the cathode."""
    inner = s.inner("g")
    fired = np.asarray(v["fired"]) * np.asarray(v["path"]) if s.powered else 0.0 * np.asarray(v["path"])
    s.junction(
        pins["a"], pins["k"], isat=np.asarray(fired) * saturation(np.asarray(DROP), np.asarray(IDEALITY)), ideality=IDEALITY
    )
    s.resistor(pins["a"], pins["k"], 1e8)
    s.resistor(pins["g"], inner, GATE_SERIES)
    isat = GATE_AMPS / np.expm1(GATE_DROP / (GATE_IDEALITY * VT))
    s.junction(inner, pins["k"], isat=isat, ideality=GATE_IDEALITY)
    s.resistor(pins["g"], pins["k"], GATE_SHUNT)
    s.resistor(pins["a"], pins["k"], v["across"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Fired by more than 0.6 V at the gate at some moment of the cycle; holds while never less than its holding amps flow."""
    gate = probe.volts("g", "k").max(1) > FIRES
    amps = saturation(np.asarray(DROP), np.asarray(IDEALITY)) * np.expm1(
        np.clip(probe.volts("a", "k").min(1), -1.0, 3.0) / (IDEALITY * VT)
    )
    holds = (now > 0.5) & (amps > np.asarray(v["hold"])) & (np.asarray(v["path"]) > 0.5)
    return np.asarray(gate | holds, float)


FAMILY = Family(
    name="scr",
    words=("scr", "thyristor"),
    letters=("SCR",),
    pins=("a", "k", "g"),
    params=(Param("hold", "A", 10e-3, 0.0), slot("fired"), slot("path", 1.0), across()),
    rate=0.2,
    rate_source=HDBK217 + ", thyristor, raised for crowbar and heater duty",
    ways=(
        Way("short", 0.97, HDBK338, spread("across", 0.05, 2.0), "anode to cathode shorted", {"cracked": 0.2}, "short"),
        Way("open", 0.03, HDBK338, put("path", 0.0), "never fires", {}, "open"),
    ),
    stamp=stamp,
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("fired", 0.0, settle),
    plus_minus=("a", "k"),
    aliases={"ak": ("a", "k"), "ka": ("k", "a"), "gk": ("g", "k")},
    ratings=(("volts", peak_volts("a", "k")),),
    limiter=True,  # mostly a crowbar: with it out a rail may rise
    killers=("over-volts of the rail it shorts", "shorted load", "no snubber", "no heatsink"),
    test="anode to cathode OL both ways; gate to cathode a diode or some ohms; fires and holds on 12 V through a lamp",
    substitute="volts and amps not less, gate and holding current not more, tab isolated as it was",
    cold_reads=(("a", "k", "r"), ("k", "a", "r"), ("g", "k", "d")),
    alone_reads=(("a", "k", "r"), ("k", "a", "r"), ("g", "k", "d")),
    symbol=THYRISTOR,
)
