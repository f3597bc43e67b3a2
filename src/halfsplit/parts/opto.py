"""Optocoupler with transistor output."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, OPEN, SHIFTED, across, put, scaled, slot, spread
from halfsplit.parts.stamper import VT, Stamper
from halfsplit.parts.symbols import OPTO

LED_VOLTS, LED_IDEALITY = 1.15, 1.9  # drop at 10 mA [V], as the element has it


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """LED, the transistor it drives, and what is across C-E."""
    c = s.inner("c")
    s.resistor(pins["c"], c, 1.0 + v["c_open"])
    # a LED of another drop is one of another saturation current
    led = v["led"] * np.exp((LED_VOLTS - np.asarray(v["drop"])) / (LED_IDEALITY * VT))
    s.opto(pins["a"], pins["k"], c, pins["e"], ctr=v["ctr"], led=led)
    s.resistor(pins["c"], pins["e"], v["across"])


FAMILY = Family(
    name="opto",
    words=("opto", "optocoupler"),
    letters=("U", "IC", "OK"),
    pins=("a", "k", "c", "e"),
    params=(Param("ctr", "", 1.3, 0.4, 1.5), Param("drop", "V", 1.15, 0.05, 1.05), slot("led", 1.0), Param("c_open", "ohm", 0.0, 0.0), across()),
    rate=0.22,
    rate_source=HDBK217 + ", opto isolator",
    ways=(
        Way("led-open", 0.25, SHIFTED, put("led", 0.0), "LED open", {}, "open"),
        Way("weak", 0.45, BENCH, scaled("ctr", 0.003, 0.35), "gain (CTR) worn", {}),
        Way("short", 0.15, SHIFTED, spread("across", 1.0, 50.0), "transistor side shorted", {}, "short"),
        Way("open", 0.15, SHIFTED, put("c_open", OPEN), "transistor side open", {}, "open"),
    ),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    dies_alone=True,
    sides=(("a", "k"), ("c", "e")),
    main_value="ctr",
    plus_minus=("a", "k"),
    aliases={"ak": ("a", "k"), "ka": ("k", "a"), "ce": ("c", "e"), "ec": ("e", "c"), "led": ("a", "k")},
    killers=("age", "heat", "over-driven LED"),
    test="LED 1.0 to 1.2 V; pass 5 mA and read the transistor side",
    substitute="CTR rank equal, isolation and creepage not less",
    cold_reads=(("a", "k", "d"), ("c", "e", "r")),
    alone_reads=(("a", "k", "d"), ("c", "e", "r")),
    symbol=OPTO,
)
