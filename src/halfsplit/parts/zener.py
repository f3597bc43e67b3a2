"""Zener diode."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, SHIFTED, across, put, slot, spread, wrong_value
from halfsplit.parts.stamper import VT, Stamper
from halfsplit.parts.symbols import ZENER


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Silicon forwards, sharp knee at its volts backwards (5 mA), slope resistance in series."""
    inner = s.inner("z")
    slope = np.where(np.asarray(v["ohms"]) > 0, v["ohms"], 0.03 * v["volts"])
    s.resistor(pins["a"], inner, slope + np.where(np.asarray(v["path"]) > 0.5, 0.0, 1e9))
    s.junction(inner, pins["k"], isat=v["path"] * 1e-13, ideality=1.05, breakdown=v["volts"] - 5e-3 * slope)
    s.resistor(pins["a"], pins["k"], v["across"])


def _omega(z: Array) -> Array:
    """y with y + ln y = z (the Wright omega), by Newton from either asymptote."""
    z = np.clip(z, -60.0, None)
    y = np.where(z > 1.0, np.maximum(z - np.log(np.maximum(z, 1.0)), 0.5), np.exp(np.minimum(z, 1.0)))
    for _ in range(6):
        y = np.maximum(y * (1.0 + z - np.log(y)) / (1.0 + y), 1e-30)
    return np.asarray(y)


def watts(probe: Any, v: Values) -> Array:
    """Mean power (batch,) [W]; its amps are those of knee and slope together, as stamped."""
    volts = probe.volts("k", "a")
    slope = np.where(np.asarray(v["ohms"]) > 0, v["ohms"], 0.03 * np.asarray(v["volts"]))[..., None]
    over = (volts - np.asarray(v["volts"])[..., None]) / VT
    per_amp = slope / VT
    amps = _omega(over + 5e-3 * per_amp + np.log(5e-3 * per_amp)) / per_amp
    return np.asarray((volts * amps).mean(1) * v["path"])


FAMILY = Family(
    name="zener",
    words=("zener",),
    letters=("ZD", "DZ"),
    pins=("a", "k"),
    params=(Param("volts", "V", 12.0, 0.05, 1.3), Param("ohms", "ohm", 0.0, 0.3), slot("path", 1.0), across()),
    rate=0.2,
    rate_source=HDBK217 + ", raised for the power ones in droppers, common practice",
    ways=(
        Way("short", 0.5, SHIFTED, spread("across", 0.05, 5.0), "shorted", {"burnt": 0.3}, "short"),
        Way("open", 0.25, SHIFTED, put("path", 0.0), "open: nothing holds the rail down", {"cracked": 0.3}, "open"),
        Way("leaky", 0.25, SHIFTED, spread("across", 200.0, 20e3), "leaky"),
    ),
    wrong=wrong_value("volts", 1.12, 2.4, "volts"),
    stamp=stamp,
    shaken=0.1,
    heated=0.2,
    dies_alone=False,
    main_value="volts",
    plus_minus=("k", "a"),
    aliases={"ka": ("k", "a"), "ak": ("a", "k")},
    limiter=True,
    ratings=(("watts", watts),),
    killers=("over-current", "open load"),
    test="diode test both ways; volts in use",
    substitute="volts equal within 2 to 5 %, watts not less",
    cold_reads=(("a", "k", "d"), ("k", "a", "r")),
    alone_reads=(("a", "k", "d"), ("k", "a", "r")),
    symbol=ZENER,
)
