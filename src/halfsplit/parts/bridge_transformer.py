"""Transformer of a resonant half-bridge: one primary, a secondary with its middle brought out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.bridge_fet import FULL
from halfsplit.parts.common import CLEAR, HDBK217, HDBK338, OPEN, put, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

OVERLOAD = 20e3  # [W] at rated output: more than any stage can move


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Primary ohms; each half of the secondary is coupled to the core, which stands at FULL volts when they give `out`."""
    s.resistor(pins["p+"], pins["p-"], v["rp"] + v["p_open"])
    for end in ("s1", "s2"):
        ohms = v["rs"] + v[f"{end}_open"]
        if s.powered:
            s.ideal((pins["core"], "N"), (pins[end], pins["ct"]), np.asarray(v["out"]) / FULL, ohms)
        else:
            s.resistor(pins[end], pins["ct"], ohms)
    if s.powered:
        spoilt = (np.asarray(v["kick"]) > 0.5) | (np.asarray(v["turns"]) > 0.5)
        s.resistor(pins["core"], "N", np.where(spoilt, FULL**2 / OVERLOAD, CLEAR))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """A half that lets current flow backwards through its winding (shorted rectifier) overloads the stage."""
    apart = {"s1_open": OPEN, "s2_open": OPEN}
    back = np.minimum(probe.looking_out("s1", "ct", apart), probe.looking_out("s2", "ct", apart))
    return np.asarray(back < 15.0, float)


FAMILY = Family(
    name="bridge-transformer",
    words=("bridge-transformer", "llc-transformer", "half-bridge-transformer"),
    letters=(),
    pins=("p+", "p-", "s1", "ct", "s2", "core"),
    params=(
        Param("out", "V", 12.0, 0.0),
        Param("rp", "ohm", 0.3, 0.3, 2.0),
        Param("rs", "ohm", 0.01, 0.4, 2.0),
        Param("p_open", "ohm", 0.0, 0.0),
        Param("s1_open", "ohm", 0.0, 0.0),
        Param("s2_open", "ohm", 0.0, 0.0),
        slot("turns"),
        slot("kick"),
    ),
    rate=0.06,
    rate_source=HDBK217 + ", pulse transformer",
    ways=(
        Way("primary-open", 0.35, HDBK338, put("p_open", OPEN), "primary open", {}, "open"),
        Way("secondary-open", 0.2, HDBK338, put("s1_open", OPEN), "one half of the secondary open", {}, "open"),
        Way("shorted-turns", 0.45, HDBK338, put("turns", 1.0), "shorted turns", {"burnt": 0.2}, "short"),
    ),
    stamp=stamp,
    switching=("p-", "s1", "s2", "core"),
    shaken=0.3,
    heated=0.1,
    sides=(("p+", "p-", "core"), ("s1", "ct", "s2")),
    mode=Mode("kick", 0.0, settle, latching=True),
    main_value="out",
    plus_minus=("p+", "p-"),
    aliases={"p": ("p+", "p-"), "s1": ("s1", "ct"), "s2": ("s2", "ct")},
    killers=("bridge short", "overload"),
    test="ohms of each winding, ring test",
    substitute="same part or donor: its leakage is part of the resonance",
    cold_reads=(("p+", "p-", "r"), ("s1", "ct", "r"), ("s2", "ct", "r")),
    alone_reads=(("p+", "p-", "r"), ("s1", "ct", "r"), ("s2", "ct", "r")),
    symbol=Box(("p+", "p-"), ("s1", "ct", "s2"), "T", ("core",)),
)
