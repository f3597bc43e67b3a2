"""Tungsten lamp. Its ohms follow the volts it gets: hot at its rating, a thirteenth of that cold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.common import HDBK217, ohms_by_watts, open_way, slot
from halfsplit.parts.filament import AHEAD, COLD, filament_ohms
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import LAMP

LEVELS = 100  # of brightness, in even ratios from hot to cold: 2.6 % each
STAYS = 0.75  # of a level: nearer than this it stays where it is, or it would hunt between two


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """The filament at its level of brightness; cold while unplugged."""
    s.resistor(pins["a"], pins["b"], v["ohms"] * COLD ** (-v["dimmed"] / LEVELS if s.powered else -1.0))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Level that its rms volts ask for, 0 at the rated ones, LEVELS when cold."""
    rms = np.sqrt((probe.volts("a", "b") ** 2).mean(1))
    wanted = LEVELS * np.log(1.0 / filament_ohms(np.ones_like(rms), rms / v["volts"])) / np.log(COLD)
    gap = wanted - now
    # short of the rated ohms only: an over-driven filament gains little more, and it doesn't last
    return np.where(np.abs(gap) < STAYS, now, np.clip(np.round(now + AHEAD * gap), 0, LEVELS))


FAMILY = Family(
    name="lamp",
    words=("lamp", "bulb"),
    letters=("LA",),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 880.0, 0.08, 2.0), Param("volts", "V", 230.0, 0.0), slot("dimmed")),
    rate=4.0,
    rate_source=HDBK217 + ", incandescent AC",
    ways=(open_way(1.0, HDBK217, "ohms", "filament open", burnt=0.5),),
    stamp=stamp,
    shaken=0.3,
    heated=0.02,
    dies_alone=True,
    visible=True,
    mode=Mode("dimmed", 0.0, settle),
    rated_values=ohms_by_watts,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("age",),
    test="ohms: a thirteenth of volts squared over watts",
    substitute="same volts, watts and cap",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    symbol=LAMP,
)
