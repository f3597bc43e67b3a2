"""Relay: coil and one make contact."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, HDBK338, OPEN, between, put, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import RELAY


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Coil ohms; contact closed when pulled in (or welded)."""
    s.resistor(pins["c+"], pins["c-"], v["ohms"] + v["c_open"])
    closed = (
        (np.asarray(v["pulled"]) > 0.5) & (np.asarray(v["stuck"]) < 0.5) if s.powered else np.zeros(np.shape(v["stuck"]), bool)
    )
    s.resistor(pins["com"], pins["no"], np.where(closed | (np.asarray(v["welded"]) > 0.5), v["contact"], OPEN))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Pulls in above 0.7 of its volts, drops out under 0.15."""
    volts = (
        np.abs(probe.volts("c+", "c-").mean(1)) * v["ohms"] / (v["ohms"] + v["c_open"])
    )  # an open coil has its volts, but no pull
    return np.asarray(np.where(now > 0.5, volts > 0.15 * v["volts"], volts > 0.7 * v["volts"]), float)


def _other_coil(least: float, most: float) -> Callable[[Values, Array], dict[str, Array]]:
    """A coil of other volts and of the same watts."""

    def change(v: Values, u: Array) -> dict[str, Array]:
        times = between(least, most, u)
        return {"volts": v["volts"] * times, "ohms": v["ohms"] * times**2}

    return change


FAMILY = Family(
    name="relay",
    words=("relay",),
    letters=("K", "RL"),
    pins=("c+", "c-", "com", "no"),
    params=(
        Param("volts", "V", 24.0, 0.0),
        Param("ohms", "ohm", 1440.0, 0.1, 1.5),
        Param("contact", "ohm", 0.02, 0.5),
        Param("c_open", "ohm", 0.0, 0.0),
        slot("pulled"),
        slot("stuck"),
        slot("welded"),
    ),
    rate=1.0,
    rate_source=HDBK217 + ", general relay",
    ways=(
        Way("coil-open", 0.15, HDBK338, put("c_open", OPEN), "coil open", {}, "open"),
        Way("stuck-open", 0.5, HDBK338, put("stuck", 1.0), "contact burnt, doesn't make", {"burnt": 0.2}, "open"),
        Way("welded", 0.35, HDBK338, put("welded", 1.0), "contact welded: on for good", {}, "short"),
    ),
    wrong=(
        Way("wrong part, low", 0.5, BENCH, _other_coil(0.2, 0.6), "coil of too few volts fitted", {}, "wrong"),
        Way("wrong part, high", 0.5, BENCH, _other_coil(1.7, 4.8), "coil of too many volts fitted", {}, "wrong"),
    ),
    stamp=stamp,
    shaken=0.5,
    heated=0.1,
    dies_alone=True,
    sides=(("c+", "c-"), ("com", "no")),
    mode=Mode("pulled", 0.0, settle, charged=1.0),
    main_value="volts",
    plus_minus=("c+", "c-"),
    aliases={"coil": ("c+", "c-"), "no": ("com", "no"), "contact": ("com", "no")},
    killers=("load surge", "coil volts low", "missing snubber"),
    test="coil ohms; contact ohms both states; contact mV at load",
    substitute="coil volts and ohms equal within 10 %, contact and load type not less, same pins",
    cold_reads=(("c+", "c-", "r"), ("com", "no", "r")),
    alone_reads=(("c+", "c-", "r"), ("com", "no", "r")),
    across_live=("com", "no"),
    symbol=RELAY,
)
