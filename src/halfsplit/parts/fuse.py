"""Fuse. A blown one is a symptom in nine cases of ten; as a suspect of its own it has aged or parted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.common import BENCH, OPEN, open_way, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import FUSE

CARRIES = 1.7  # times its rating: between 1.5 and 2.1, the gates of IEC 60127 sheets 1 to 5 (read second-hand)


def typical_ohms(amps: Array) -> Array:
    """Cold resistance of a 5 x 20 mm time-lag fuse [ohm].

    Source: a maker's table from 1 to 10 A (0.2 ohm at 1 A, 7 mohm at 10 A; read second-hand), met within 6 %. Below 1 A the same
    law is carried on, with nothing printed to hold it to.
    """
    return np.asarray(0.2 * np.asarray(amps, float) ** -1.48)


def element_ohms(v: Values) -> Array:
    """What was written, else what such a fuse has."""
    return np.where(np.asarray(v["ohms"]) > 0, v["ohms"], typical_ohms(v["amps"]) * v["ohms_factor"])


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Element resistance, or open once blown."""
    s.resistor(pins["a"], pins["b"], np.where(v["blown"] > 0.5, OPEN, element_ohms(v)))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Blows when its steady rms current is above CARRIES times its rating: the gates leave an hour at 1.5 and close at 2.1 times."""
    rms = np.sqrt((probe.volts("a", "b") ** 2).mean(1)) / element_ohms(v)
    return np.asarray((rms > CARRIES * v["amps"]) & (now < 0.5), float)


FAMILY = Family(
    name="fuse",
    words=("fuse",),
    letters=("F",),
    pins=("a", "b"),
    params=(Param("amps", "A", 2.0, 0.0), Param("ohms", "ohm", 0.0, 0.3), Param("ohms_factor", "", 1.0, 0.5), slot("blown")),
    rate=0.15,
    rate_source=BENCH + ": a fuse that parted without a fault behind it",
    ways=(open_way(1.0, BENCH, "ohms", "fuse parted by age or inrush, nothing behind it shorted", clean=0.8),),
    stamp=stamp,
    shaken=0.1,
    heated=0.02,
    dies_alone=False,
    mode=Mode("blown", 0.0, settle, latching=True),
    main_value="amps",
    plus_minus=("a", "b"),
    protector=True,
    heard_as_fuse=True,
    killers=("shorted varistor", "shorted bridge", "shorted switch", "shorted bulk", "inrush"),
    test="ohms, out of its holder: OL, or below 1 ohm from 0.4 A on and some ohms under that; look at the glass",
    substitute="amps, speed and size equal; volts and breaking capacity not less; never higher, never foil",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=FUSE,
)
