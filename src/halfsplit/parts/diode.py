"""Diode: mains, fast, Schottky."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, across, peak_volts, put, slot, spread
from halfsplit.parts.stamper import VT, Stamper
from halfsplit.parts.symbols import DIODE


def saturation(drop: Array, ideality: Array) -> Array:
    """Saturation current from the drop at 1 A [A]."""
    return np.asarray(1.0 / np.expm1(np.asarray(drop) / (np.asarray(ideality) * VT)))


def drop_of(amps: float) -> float:
    """Drop at 1 A of a diode of so many rated amps [V]: a larger chip drops less at the same current, and its current goes with its area
    (common practice: 0.59 V on the diode test for a 1 A type, 0.5 V for one of 5 A)."""
    return float(round(0.93 - 1.9 * VT * np.log(max(amps, 1.0)), 3))


def rated(known: Mapping[str, float], mains: float) -> dict[str, float]:
    """The drop that follows from the rated amps."""
    return {"drop": drop_of(known["amps"])} if known.get("amps", 0.0) > 1.0 else {}


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """One junction and what is across it."""
    quick = np.asarray(v["schottky"]) > 0.5
    drop = np.where(quick, 0.45 / 0.93 * v["drop"], v["drop"])
    n = np.where(quick, 1.2 / 1.9 * v["ideality"], v["ideality"])
    s.junction(pins["a"], pins["k"], isat=v["path"] * saturation(drop, n), ideality=n)
    s.resistor(pins["a"], pins["k"], v["across"])


FAMILY = Family(
    name="diode",
    words=("diode", "rectifier", "schottky", "1n4007", "1n4148"),
    letters=("D",),
    pins=("a", "k"),
    params=(Param("drop", "V", 0.93, 0.05), Param("ideality", "", 1.9, 0.05), slot("path", 1.0), slot("schottky"), across()),
    rate=0.25,
    rate_source=HDBK217 + ", fast power diode, halved",
    ways=(
        Way("short", 0.51, HDBK338, spread("across", 0.05, 2.0), "shorted", {"cracked": 0.2, "burnt": 0.2}, "short"),
        Way("open", 0.29, HDBK338, put("path", 0.0), "open", {"cracked": 0.3}, "open"),
        Way("leaky", 0.2, HDBK338, spread("across", 100.0, 20e3), "leaky"),
    ),
    stamp=stamp,
    rated_values=rated,
    shaken=0.1,
    heated=0.2,
    dies_alone=False,
    main_value=None,
    plus_minus=("a", "k"),
    aliases={"ka": ("k", "a"), "ak": ("a", "k")},
    ratings=(("volts", peak_volts("a", "k")),),
    killers=("overload", "tired reservoir", "surge"),
    test="diode test both ways, one leg up where a winding lies across",
    substitute="volts, amps, surge not less; speed class not slower",
    cold_reads=(("a", "k", "d"), ("k", "a", "d"), ("k", "a", "r")),
    alone_reads=(("a", "k", "d"), ("k", "a", "r")),
    symbol=DIODE,
)
