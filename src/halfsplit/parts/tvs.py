"""Transient suppressor diode across a rail or a line: blocks at its stand-off volts, clamps above."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, across, put, slot, spread
from halfsplit.parts.stamper import VT, Stamper
from halfsplit.parts.symbols import SUPPRESSOR

STARTS = 1.17  # breakdown over the stand-off volts of the marking (makers' tables: 1.11 to 1.23, recalled)
SLOPE = 0.75  # slope resistance [ohm] x pulse watts / volts^2: 1.6 times stand-off volts at full pulse current (recalled)
STEADY = 1.0 / 120.0  # what it stands for ever, of its pulse watts: 5 W of a 600 W type (recalled)
KNEE = 5e-3  # what it carries at its breakdown volts [A]
FORWARD = 0.75  # of the second junction of a bidirectional one [V]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Slope, junction with breakdown; a second one the other way round, bridged inside unless it is bidirectional."""
    one, two = s.inner("one"), s.inner("two")
    both = np.asarray(v["bidirectional"]) > 0.5
    volts = np.asarray(v["volts"])
    starts = STARTS * volts - np.where(both, FORWARD, 0.0)
    s.resistor(pins["a"], one, SLOPE * volts**2 / v["watts"] + np.where(np.asarray(v["path"]) > 0.5, 0.0, 1e9))
    s.junction(one, two, isat=v["path"] * 1e-13, ideality=1.05, breakdown=starts * v["path"])
    s.junction(pins["k"], two, isat=v["path"] * both * 1e-13, ideality=1.05, breakdown=np.where(both, starts, 0.0) * v["path"])
    s.resistor(two, pins["k"], np.where(both, 1e9, 1e-3))
    s.resistor(pins["a"], pins["k"], v["across"])


def watts(probe: Any, v: Values) -> Array:
    """Stress: its steady power in terms of the pulse watts of its marking (batch,) [W]."""
    volts = np.abs(probe.volts("k", "a"))
    slope = (SLOPE * np.asarray(v["volts"]) ** 2 / v["watts"])[..., None]
    over = volts - STARTS * np.asarray(v["volts"])[..., None]
    low, high = np.zeros(volts.shape), np.maximum(over / slope, KNEE)
    for _ in range(40):  # the amps at which knee and slope share the volts
        mid = 0.5 * (low + high)
        past = VT * np.log(np.maximum(mid, 1e-12) / KNEE) + slope * mid > over
        low, high = np.where(past, low, mid), np.where(past, mid, high)
    amps = np.where(over > -0.3, 0.5 * (low + high), 0.0)
    return np.asarray((volts * amps).mean(1) * v["path"] / STEADY)


FAMILY = Family(
    name="tvs",
    words=("tvs", "transient-suppressor"),
    letters=("TVS",),
    pins=("a", "k"),
    params=(
        Param("volts", "V", 15.0, 0.06, 1.3),
        Param("watts", "W", 600.0, 0.0),
        slot("bidirectional"),
        slot("path", 1.0),
        across(),
    ),
    rate=0.03,
    rate_source=HDBK217 + ", transient suppressor",
    ways=(
        Way(
            "short",
            0.8,
            BENCH,
            spread("across", 0.05, 5.0),
            "shorted: it died holding the rail down",
            {"burnt": 0.3, "cracked": 0.3},
            "short",
        ),
        Way("open", 0.1, BENCH, put("path", 0.0), "open: spikes now reach what is behind it", {"cracked": 0.5}, "open"),
        Way("leaky", 0.1, BENCH, spread("across", 100.0, 20e3), "leaky"),
    ),
    stamp=stamp,
    dies_alone=False,
    main_value="volts",
    plus_minus=("k", "a"),
    aliases={"ka": ("k", "a"), "ak": ("a", "k")},
    protector=True,
    limiter=True,
    ratings=(("watts", watts),),
    killers=("surge", "over-volts of the supply in front of it", "reversed supply"),
    test="diode test: 0.5 to 0.8 V one way and OL the other; a bidirectional one OL both ways; out of the board for leakage",
    substitute="stand-off volts equal, watts not less, unidirectional or bidirectional as it was; never left out",
    cold_reads=(("a", "k", "d"), ("k", "a", "r")),
    alone_reads=(("a", "k", "d"), ("k", "a", "d"), ("k", "a", "r")),
    symbol=SUPPRESSOR,
)
