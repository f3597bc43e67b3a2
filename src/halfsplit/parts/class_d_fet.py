"""One of the two output FETs of a class-D amplifier, averaged over the switching period."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts import switching_fet
from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.bipolar import OUTPUT
from halfsplit.parts.common import CLEAR, HDBK217, across, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SWITCH_FET

SHARE, KNEE, TOP = 1.0, 1e-3, 1e3  # what it takes goes back to the rails: the pair holds its middle, it burns nothing at rest
SHORTED = 6.0  # less than coil and filter have at the frequency of the look: the other transistor is short [ohm]
RAILS_EMPTIED = 300.0  # [A] 90 V of charged capacitors through 0.3 ohm of leads and transistors (bench estimate)
CROWBAR = 0.5  # what a pair that shoots through is to its rails [ohm]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Pulls its middle as a resistor would, without its loss; body diode; the way through to the other transistor, if that is short."""
    drain = switching_fet.drain_of(s, pins, v)
    shoots = np.asarray(v["shoots"]) > 0.5
    siemens = np.where(shoots, 0.0, v["siemens"]) * (1.0 if s.powered else 0.0)
    s.mover((drain, pins["g"], pins["s"]), (pins["core"], "N"), siemens=siemens, share=SHARE, knee=KNEE, top=TOP)
    switching_fet.body(s, pins, drain, v, np.where(shoots, CROWBAR, CLEAR))
    switching_fet.core_leak(s, pins)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Driven into a short of the other transistor it shoots through, for good."""
    shorted = switching_fet.driven(probe) & (switching_fet.round_it(probe) < SHORTED)
    return np.asarray((now > 0.5) | shorted, float)


def surge(probe: Any, v: Values) -> Array:
    """Amps at the worst moment: what a pair that shoots through takes out of the rails' capacitors, by far more than it stands."""
    return np.where(np.asarray(v["shoots"]) > 0.5, RAILS_EMPTIED, 1.0)


FAMILY = Family(
    name="class-d-fet",
    words=("class-d-fet",),
    letters=(),
    pins=switching_fet.PINS,
    params=(Param("siemens", "S", 0.05, 0.04), Param("d_open", "ohm", 0.0, 0.0), slot("shoots"), across(), across("gate")),
    rate=0.5,
    rate_source=HDBK217 + ", silicon FET 0.11, x 4.5 for hard switching at a loudspeaker's currents",
    ways=switching_fet.ways(short=0.8, open_=0.1, least=0.02),
    stamp=stamp,
    switching=("g", "core"),
    left_out=OUTPUT,
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("shoots", 0.0, settle),
    plus_minus=("d", "s"),
    aliases=switching_fet.ALIASES,
    ratings=(("surge", surge),),
    killers=("its twin short", "boot capacitor dried: driven too little", "driver", "gate resistor", "shorted speaker or coil"),
    test=switching_fet.TEST,
    substitute="both the same type; volts not less, gate charge not more",
    cold_reads=switching_fet.READS,
    alone_reads=switching_fet.READS,
    symbol=SWITCH_FET,
)
