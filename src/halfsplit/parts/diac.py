"""Diac: blocks either way until its breakover, then lets a timing capacitor go into a gate."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, across, put, slot, spread
from halfsplit.parts.stamper import NEVER, Stamper
from halfsplit.parts.symbols import DIAC

KEEPS = 0.75  # of its breakover volts, while it conducts (makers' limits recalled: it snaps back by 5 to 10 V of 32)
HOLD = 1e-3  # [A] under which it blocks again


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Blocks until its breakover; unplugged for good, since no meter reaches that."""
    fires = np.where(np.asarray(v["path"]) > 0.5, v["volts"], NEVER)
    s.latch(pins["a"], pins["b"], (pins["a"], pins["b"]), fires=fires, hold=HOLD, keep=KEEPS * np.asarray(v["volts"]))
    s.resistor(pins["a"], pins["b"], v["across"])


FAMILY = Family(
    name="diac",
    words=("diac",),
    letters=(),
    pins=("a", "b"),
    params=(Param("volts", "V", 32.0, 0.1), slot("path", 1.0), across()),
    rate=0.06,
    rate_source=BENCH,
    ways=(
        Way("short", 0.45, BENCH, spread("across", 0.5, 20.0), "shorted: the timing capacitor never gets up to a breakover", {}, "short"),
        Way("open", 0.45, BENCH, put("path", 0.0), "never breaks over", {}, "open"),
        Way("leaky", 0.1, BENCH, spread("across", 2e3, 50e3), "leaks under its breakover", {}),
    ),
    stamp=stamp,
    pulses=True,
    shaken=0.1,
    heated=0.15,
    dies_alone=False,
    main_value="volts",
    plus_minus=("a", "b"),
    aliases={"ab": ("a", "b"), "ba": ("b", "a")},
    killers=("shorted triac gate",),
    test="OL both ways; breaks over at 28 to 36 V either way on a current-limited supply",
    substitute="same breakover volts, peak amps not less",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    symbol=DIAC,
)
