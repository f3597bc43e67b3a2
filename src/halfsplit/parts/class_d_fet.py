"""One of the two output FETs of a class-D amplifier, averaged over the switching period."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.bipolar import OUTPUT
from halfsplit.parts.common import BENCH, CLEAR, HDBK217, OPEN, SHIFTED, across, put, slot, spread
from halfsplit.parts.diode import saturation
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SWITCH_FET

LEG = 1e-3  # of the drain, for its open to stand in; too small to be read [ohm]
SHARE, KNEE, TOP = 1.0, 1e-3, 1e3  # what it takes goes back to the rails: the pair holds its middle, it burns nothing at rest
SHORTED = 6.0  # less than coil and filter have at the frequency of the look: the other transistor is short [ohm]
RAILS_EMPTIED = 300.0  # [A] 90 V of charged capacitors through 0.3 ohm of leads and transistors (bench estimate)
CROWBAR = 0.5  # what a pair that shoots through is to its rails [ohm]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Pulls its middle as a resistor would, without its loss; body diode; the way through to the other transistor, if that is short."""
    drain = s.inner("d")
    s.resistor(pins["d"], drain, LEG + v["d_open"])
    shoots = np.asarray(v["shoots"]) > 0.5
    siemens = np.where(shoots, 0.0, v["siemens"]) * (1.0 if s.powered else 0.0)
    s.mover((drain, pins["g"], pins["s"]), (pins["core"], "N"), siemens=siemens, share=SHARE, knee=KNEE, top=TOP)
    s.junction(pins["s"], drain, isat=saturation(np.asarray(0.85), np.asarray(1.7)), ideality=1.7)
    s.resistor(drain, pins["s"], v["across"])
    if s.powered:
        s.resistor(drain, pins["s"], np.where(shoots, CROWBAR, CLEAR))
    s.resistor(pins["g"], pins["s"], 1.0 / (1.0 / v["gate"] + (1e-7 if s.powered else 0.0)))
    s.resistor(pins["core"], "N", 1e6)  # the core is no net of the board


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Driven into a short of the other transistor it shoots through, for good."""
    driven = probe.volts("g", "s").mean(1) > 0.3
    return np.asarray((now > 0.5) | (driven & (probe.looking_out("d", "s", {"across": CLEAR}) < SHORTED)), float)


def surge(probe: Any, v: Values) -> Array:
    """Amps at the worst moment: what a pair that shoots through takes out of the rails' capacitors, by far more than it stands."""
    return np.where(np.asarray(v["shoots"]) > 0.5, RAILS_EMPTIED, 1.0)


FAMILY = Family(
    name="class-d-fet",
    words=("class-d-fet",),
    letters=(),
    pins=("d", "g", "s", "core"),
    params=(Param("siemens", "S", 0.05, 0.04), Param("d_open", "ohm", 0.0, 0.0), slot("shoots"), across(), across("gate")),
    rate=0.5,
    rate_source=HDBK217 + ", silicon FET 0.11, x 4.5 for hard switching at a loudspeaker's currents",
    ways=(
        Way("short", 0.8, SHIFTED, spread("across", 0.02, 2.0), "D-S shorted", {"cracked": 0.4, "burnt": 0.3}, "short"),
        Way("gate-short", 0.1, BENCH, spread("gate", 1.0, 500.0), "gate leaks to source", {}, "short"),
        Way("open", 0.1, SHIFTED, put("d_open", OPEN), "drain open", {"cracked": 0.3}, "open"),
    ),
    stamp=stamp,
    switching=("g", "core"),
    left_out=OUTPUT,
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("shoots", 0.0, settle),
    plus_minus=("d", "s"),
    aliases={"ds": ("d", "s"), "gs": ("g", "s"), "sd": ("s", "d"), "dg": ("d", "g")},
    ratings=(("surge", surge),),
    killers=("its twin short", "boot capacitor dried: driven too little", "driver", "gate resistor", "shorted speaker or coil"),
    test="D-S 0.4 to 0.6 V one way and OL the other, gate OL to both",
    substitute="both the same type; volts not less, gate charge not more",
    cold_reads=(("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r")),
    alone_reads=(("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r")),
    symbol=SWITCH_FET,
)
