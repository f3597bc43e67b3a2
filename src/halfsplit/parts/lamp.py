"""Tungsten lamp: its ohms follow its own rms volts while powered; a thirteenth of the hot ohms cold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.common import HDBK217, open_way, slot
from halfsplit.parts.stamper import Stamper

COLD = 13.0  # hot over cold ohms, common practice
MARKED, MOST = 100.0, 250.0  # steps of its rms volts: at the marked volts, and where counting ends
STANDS = 0.02  # it is left where it is while its ohms would move by less


def filament(steps: Array) -> Array:
    """Share of the hot ohms at so many steps: R ~ V^0.45 (handbook, read second-hand), not below cold."""
    return np.asarray(np.maximum(1.0 / COLD, (np.asarray(steps, float) / MARKED) ** 0.45))


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Filament at the volts that it settled at, or cold."""
    share = filament(v["glow"]) if s.powered else 1.0 / COLD
    s.resistor(pins["a"], pins["b"], np.square(v["volts"]) / v["watts"] * share + v["opened"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Its own rms volts in hundredths of the marked ones; more volts make more ohms, and those more volts, so this runs one way and stops."""
    rms = np.sqrt((probe.volts("a", "b") ** 2).mean(1))
    steps = np.clip(np.round(MARKED * rms / v["volts"]), 0.0, MOST)
    moves = np.abs(np.log(filament(steps) / filament(now))) > STANDS
    return np.asarray(np.where(moves, steps, now))


FAMILY = Family(
    name="lamp",
    words=("lamp", "bulb"),
    letters=("LA",),
    pins=("a", "b"),
    params=(Param("volts", "V", 230.0, 0.0), Param("watts", "W", 60.0, 0.08, 2.0), slot("glow", MARKED), slot("opened")),
    rate=4.0,
    rate_source=HDBK217 + ", incandescent AC",
    ways=(open_way(1.0, HDBK217, "opened", "filament open", burnt=0.5),),
    stamp=stamp,
    mode=Mode("glow", MARKED, settle),
    dies_alone=True,
    visible=True,
    main_value="watts",
    plus_minus=("a", "b"),
    killers=("age",),
    test="ohms; cold a thirteenth of volts squared over watts",
    substitute="same volts, watts and cap",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
)
