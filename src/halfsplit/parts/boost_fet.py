"""Switch transistor (FET) of a boost stage that keeps the mains current in shape (PFC), averaged over the switching period."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts import switching_fet
from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.common import CLEAR, HDBK217, across, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SWITCH_FET

SHARE = 0.95  # of what it takes that arrives (a boost stage of some hundred watts, recalled)
SHORTED, CROWBAR = 8.0, 5.0  # seen from the drain: its diode is short; what the transistor then is to the bulk [ohm]
KNEE, TOP = 30.0, 650.0  # [V] drain volts under which the current stops rising; where the transistor breaks down


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Takes power out of the coil's far end as a resistor would and delivers it at its drain, over its source; body diode, faults."""
    drain = switching_fet.drain_of(s, pins, v)
    siemens = np.asarray(v["siemens"]) * (1.0 if s.powered else 0.0)
    s.mover((pins["core"], pins["g"], pins["s"]), (drain, pins["s"]), siemens=siemens, share=SHARE, knee=KNEE, top=TOP)
    switching_fet.body(s, pins, drain, v, np.where(np.asarray(v["shoots"]) > 0.5, CROWBAR, CLEAR))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Driven into a diode that is short it empties the bulk through itself, for good."""
    shorted = switching_fet.driven(probe) & (switching_fet.round_it(probe) < SHORTED)
    return np.asarray((now > 0.5) | shorted, float)


FAMILY = Family(
    name="boost-fet",
    words=("boost-fet", "pfc-fet"),
    letters=(),
    pins=switching_fet.PINS,
    params=(
        Param("siemens", "S", 0.015, 0.1, 1.5),
        Param("d_open", "ohm", 0.0, 0.0),
        slot("shoots"),
        across(),
        across("gate"),
    ),
    rate=0.6,
    rate_source=HDBK217 + ", silicon FET 0.11, x 5 for hard switching at line volts, as the family fet",
    ways=switching_fet.ways(),
    stamp=stamp,
    switching=("d", "g", "core"),
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("shoots", 0.0, settle),
    main_value=None,
    plus_minus=("d", "s"),
    aliases=switching_fet.ALIASES,
    killers=("boost diode open or slow", "sense resistor", "coil saturated or shorted turns", "mains surge"),
    test=switching_fet.TEST,
    substitute=switching_fet.SUBSTITUTE,
    cold_reads=switching_fet.READS,
    alone_reads=switching_fet.READS,
    symbol=SWITCH_FET,
)
