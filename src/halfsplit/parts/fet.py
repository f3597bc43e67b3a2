"""Switch transistor (FET) of a converter, averaged over the switching period."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, OPEN, SHIFTED, across, put, slot, spread
from halfsplit.parts.diode import saturation
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SWITCH_FET

LEG = 1e-3  # of the drain, for its open to stand in; too small to be read [ohm]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Averaged power mover from drain-source into the core, body diode, and its faults."""
    drain = s.inner("d")
    s.resistor(pins["d"], drain, LEG + v["d_open"])
    s.chopper(drain, pins["g"], pins["s"], pins["core"], watts=v["watts"] * v["drive"] * (1.0 if s.powered else 0.0), knee=1.5)
    s.junction(pins["s"], drain, isat=saturation(np.asarray(0.85), np.asarray(1.7)), ideality=1.7)
    s.resistor(drain, pins["s"], v["across"])
    s.resistor(pins["g"], pins["s"], 1.0 / (1.0 / v["gate"] + (1e-7 if s.powered else 0.0)))
    s.resistor(
        pins["core"], "N", 1e6
    )  # the core is no net of the board: whatever it leaks must not join the two sides of a fault


FAMILY = Family(
    name="fet",
    words=("fet", "mosfet", "switch-fet"),
    letters=("Q",),
    pins=("d", "g", "s", "core"),
    params=(
        Param("watts", "W", 60.0, 0.1, 1.5),
        slot("drive", 1.0),
        Param("d_open", "ohm", 0.0, 0.0),
        across(),
        across("gate"),
    ),
    rate=0.6,
    rate_source=HDBK217
    + ", silicon FET 0.11, x 5 for hard switching at line volts (common practice: the switch leads with a blown fuse)",
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
    main_value="watts",
    plus_minus=("d", "s"),
    aliases={"ds": ("d", "s"), "gs": ("g", "s"), "sd": ("s", "d"), "dg": ("d", "g")},
    killers=("clamp open", "sense resistor", "bulk high or weak", "shorted turns", "slow rectifier"),
    test="D-S 0.4 to 0.6 V one way and OL the other, gate OL to both",
    substitute="volts, amps, watts not less; gate charge not above 1.3 times",
    cold_reads=(("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r")),
    alone_reads=(("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r")),
    symbol=SWITCH_FET,
)
