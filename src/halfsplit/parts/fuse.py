"""Fuse. A blown one is a symptom in nine cases of ten; as a suspect of its own it has aged or parted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.common import BENCH, OPEN, open_way, slot
from halfsplit.parts.stamper import Stamper


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Element resistance, or open once blown."""
    s.resistor(pins["a"], pins["b"], np.where(v["blown"] > 0.5, OPEN, v["ohms"]))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Blows when its steady current is above 1.7 times its rating (gates of IEC 60127 sheets: 2.1 In within minutes, recalled)."""
    rms = np.sqrt((probe.volts("a", "b") ** 2).mean(1)) / v["ohms"]
    return np.asarray((rms > 1.7 * v["amps"]) & (now < 0.5), float)


FAMILY = Family(
    name="fuse",
    words=("fuse",),
    letters=("F",),
    pins=("a", "b"),
    params=(Param("amps", "A", 2.0, 0.0), Param("ohms", "ohm", 0.05, 0.3), slot("blown")),
    rate=0.15,
    rate_source=BENCH + ": a fuse that parted without a fault behind it",
    ways=(open_way(1.0, BENCH, "ohms", "fuse parted by age or inrush, nothing behind it shorted", clean=0.8),),
    stamp=stamp,
    dies_alone=False,
    mode=Mode("blown", 0.0, settle, latching=True),
    main_value="amps",
    plus_minus=("a", "b"),
    protector=True,
    heard_as_fuse=True,
    killers=("shorted varistor", "shorted bridge", "shorted switch", "shorted bulk", "inrush"),
    test="ohms, out of its holder: below 1 ohm or OL; look at the glass",
    substitute="amps, speed and size equal; volts and breaking capacity not less; never higher, never foil",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
)
