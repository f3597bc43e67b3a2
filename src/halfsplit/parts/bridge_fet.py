"""One of the two FETs of a resonant half-bridge (LLC), averaged over the switching period."""

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
SHARE = 0.93  # of what it takes that arrives (a resonant stage of some hundred watts, recalled)
FULL, TOP, KNEE = 10.0, 14.0, 1.0  # core volts at rated output, those that it can't pass, and where its current stops rising [V]
NO_PATH, PATH, SHOOTS = 0.0, 1.0, 2.0
TANK = 1e3  # more than a resonant capacitor has at the frequency of the look [ohm]
SHORTED = 8.0  # less than it has: the other transistor is short [ohm]
IDLE = 1e-5  # of a pair that switches with nothing between it: its middle still stands at half [S]
CROWBAR = 5.0  # what a bridge that shoots through is to its supply [ohm]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Takes power as a resistor would and puts it into the core; body diode; the way through to the other transistor, if that is short."""
    drain = s.inner("d")
    s.resistor(pins["d"], drain, LEG + v["d_open"])
    path = np.asarray(v["path"])
    moves = np.where(path == PATH, v["siemens"], np.where(path == NO_PATH, IDLE, 0.0)) * (1.0 if s.powered else 0.0)
    share = np.where(path == PATH, SHARE, 0.0)
    s.mover((drain, pins["g"], pins["s"]), (pins["core"], "N"), siemens=moves, share=share, knee=KNEE, top=TOP)
    s.junction(pins["s"], drain, isat=saturation(np.asarray(0.85), np.asarray(1.7)), ideality=1.7)
    s.resistor(drain, pins["s"], v["across"])
    if s.powered:
        s.resistor(drain, pins["s"], np.where(path == SHOOTS, CROWBAR, CLEAR))
    s.resistor(pins["g"], pins["s"], 1.0 / (1.0 / v["gate"] + (1e-7 if s.powered else 0.0)))
    s.resistor(pins["core"], "N", 1e6)  # the core is no net of the board


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Driven into a short of the other transistor it shoots through, for good; without primary or resonant capacitor it moves nothing."""
    round_it = probe.looking_out("d", "s", {"across": CLEAR})
    driven = probe.volts("g", "s").mean(1) > 0.3
    shoots = (now == SHOOTS) | ((round_it < SHORTED) & driven)
    return np.asarray(np.where(shoots, SHOOTS, np.where(round_it > TANK, NO_PATH, PATH)))


FAMILY = Family(
    name="bridge-fet",
    words=("bridge-fet", "half-bridge-fet"),
    letters=(),
    pins=("d", "g", "s", "core"),
    params=(
        Param("siemens", "S", 0.013, 0.02, 1.1),
        Param("d_open", "ohm", 0.0, 0.0),
        slot("path", PATH),
        across(),
        across("gate"),
    ),
    rate=0.4,
    rate_source=HDBK217 + ", silicon FET 0.11, x 4 (common practice: resonant switching spares it a little)",
    ways=(
        Way("short", 0.75, SHIFTED, spread("across", 0.05, 2.0), "D-S shorted", {"cracked": 0.4, "burnt": 0.3}, "short"),
        Way("gate-short", 0.1, BENCH, spread("gate", 1.0, 500.0), "gate leaks to source", {}, "short"),
        Way("open", 0.15, SHIFTED, put("d_open", OPEN), "drain open", {"cracked": 0.3}, "open"),
    ),
    stamp=stamp,
    switching=("g", "core"),
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("path", PATH, settle),
    main_value=None,
    plus_minus=("d", "s"),
    aliases={"ds": ("d", "s"), "gs": ("g", "s"), "sd": ("s", "d"), "dg": ("d", "g")},
    killers=("its twin short", "driver", "resonant capacitor", "gate resistor"),
    test="D-S 0.4 to 0.6 V one way and OL the other, gate OL to both",
    substitute="both the same type; volts, amps, watts not less; gate charge not above 1.3 times",
    cold_reads=(("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r")),
    alone_reads=(("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r")),
    symbol=SWITCH_FET,
)
