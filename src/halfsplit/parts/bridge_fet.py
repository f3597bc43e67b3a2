"""One of the two FETs of a resonant half-bridge (LLC), averaged over the switching period."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts import switching_fet
from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.common import CLEAR, HDBK217, across, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SWITCH_FET

SHARE = 0.93  # of what it takes that arrives (a resonant stage of some hundred watts, recalled)
FULL, TOP, KNEE = 10.0, 14.0, 1.0  # core volts at rated output, those that it can't pass, and where its current stops rising [V]
NO_PATH, PATH, SHOOTS = 0.0, 1.0, 2.0
TANK = 1e3  # more than a resonant capacitor has at the frequency of the look [ohm]
SHORTED = 8.0  # less than it has: the other transistor is short [ohm]
IDLE = 1e-5  # of a pair that switches with nothing between it: its middle still stands at half [S]
CROWBAR = 5.0  # what a bridge that shoots through is to its supply [ohm]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Takes power as a resistor would and puts it into the core; body diode; the way through to the other transistor, if that is short."""
    drain = switching_fet.drain_of(s, pins, v)
    path = np.asarray(v["path"])
    moves = np.where(path == PATH, v["siemens"], np.where(path == NO_PATH, IDLE, 0.0)) * (1.0 if s.powered else 0.0)
    share = np.where(path == PATH, SHARE, 0.0)
    s.mover((drain, pins["g"], pins["s"]), (pins["core"], "N"), siemens=moves, share=share, knee=KNEE, top=TOP)
    switching_fet.body(s, pins, drain, v, np.where(path == SHOOTS, CROWBAR, CLEAR))
    switching_fet.core_leak(s, pins)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Driven into a short of the other transistor it shoots through, for good; without primary or resonant capacitor it moves nothing."""
    round_it = switching_fet.round_it(probe)
    shoots = (now == SHOOTS) | ((round_it < SHORTED) & switching_fet.driven(probe))
    return np.asarray(np.where(shoots, SHOOTS, np.where(round_it > TANK, NO_PATH, PATH)))


FAMILY = Family(
    name="bridge-fet",
    words=("bridge-fet", "half-bridge-fet"),
    letters=(),
    pins=switching_fet.PINS,
    params=(
        Param("siemens", "S", 0.013, 0.02, 1.1),
        Param("d_open", "ohm", 0.0, 0.0),
        slot("path", PATH),
        across(),
        across("gate"),
    ),
    rate=0.4,
    rate_source=HDBK217 + ", silicon FET 0.11, x 4 (common practice: resonant switching spares it a little)",
    ways=switching_fet.ways(),
    stamp=stamp,
    switching=("g", "core"),
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("path", PATH, settle),
    main_value=None,
    plus_minus=("d", "s"),
    aliases=switching_fet.ALIASES,
    killers=("its twin short", "driver", "resonant capacitor", "gate resistor"),
    test=switching_fet.TEST,
    substitute="both the same type; volts, amps, watts not less; gate charge not above 1.3 times",
    cold_reads=switching_fet.READS,
    alone_reads=switching_fet.READS,
    symbol=SWITCH_FET,
)
