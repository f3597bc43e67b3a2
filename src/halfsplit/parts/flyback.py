"""Flyback transformer, averaged: the core node carries the flyback volts of the main secondary."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import CLEAR, HDBK217, HDBK338, OPEN, put, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import FLYBACK

BACKWARDS = 15.0  # [ohm] a winding that sees less than this for current of either sign has no rectifier left


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Primary ohms, and for each secondary an ideal coupling to the core (core volts against the reference of the network).

    Unplugged, windings are just their ohms.
    """
    s.resistor(pins["p+"], pins["p-"], v["rp"] + v["p_open"])
    secondary(s, pins, v)
    if s.powered:
        s.ideal((pins["core"], "N"), (pins["a+"], pins["a-"]), v["aux"] / v["out"], v["ra"] + v["a_open"])
    else:
        s.resistor(pins["a+"], pins["a-"], v["ra"] + v["a_open"])


def secondary(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """The main secondary, and what loads the core beside it: shorted turns, current that flows back, leakage and snubbing."""
    if not s.powered:
        s.resistor(pins["s+"], pins["s-"], v["rs"] + v["s_open"])
        return
    s.ideal((pins["core"], "N"), (pins["s+"], pins["s-"]), 1.0 + 0.0 * v["out"], v["rs"] + v["s_open"])
    s.resistor(pins["core"], "N", v["turns"])
    s.resistor(pins["core"], "N", np.where(np.asarray(v["kick"]) > 0.5, np.square(v["out"]) / 2000.0, CLEAR))
    s.clamp(pins["core"], "N", volts=1.5 * np.asarray(v["out"]))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """A secondary that lets current flow backwards through its winding (shorted rectifier) overloads the stage."""
    apart = {"s_open": OPEN, "a_open": OPEN}
    back = np.minimum(probe.looking_out("s+", "s-", apart), probe.looking_out("a+", "a-", apart))
    return np.asarray(back < BACKWARDS, float)


FAMILY = Family(
    name="flyback",
    words=("flyback",),
    letters=("T",),
    pins=("p+", "p-", "a+", "a-", "s+", "s-", "core"),
    params=(
        Param("out", "V", 12.0, 0.0, 1.05),  # wound for the output that it feeds
        Param("aux", "V", 14.0, 0.06, 1.15),
        Param("rp", "ohm", 0.8, 0.3, 2.0),
        Param("rs", "ohm", 0.03, 0.4, 2.0),
        Param("ra", "ohm", 0.5, 0.4, 2.0),
        Param("p_open", "ohm", 0.0, 0.0),
        Param("s_open", "ohm", 0.0, 0.0),
        Param("a_open", "ohm", 0.0, 0.0),
        Param("turns", "ohm", CLEAR, 0.0),
        slot("kick"),
    ),
    rate=0.06,
    rate_source=HDBK217 + ", pulse transformer",
    ways=(
        Way("primary-open", 0.3, HDBK338, put("p_open", OPEN), "primary open", {}, "open"),
        Way("secondary-open", 0.15, HDBK338, put("s_open", OPEN), "secondary open", {}, "open"),
        Way("aux-open", 0.15, HDBK338, put("a_open", OPEN), "aux winding open", {}, "open"),
        Way(
            "shorted-turns",
            0.4,
            HDBK338,
            lambda v, u: {"turns": v["out"] ** 2 / 2000.0 + 0.0 * u},
            "shorted turns",
            {"burnt": 0.2},
            "short",
        ),
    ),
    stamp=stamp,
    switching=("p-", "a+", "s+", "core"),
    shaken=0.3,
    heated=0.1,
    sides=(("p+", "p-", "a+", "a-", "core"), ("s+", "s-")),
    mode=Mode("kick", 0.0, settle, latching=True),
    main_value="aux",
    plus_minus=("p+", "p-"),
    aliases={"p": ("p+", "p-"), "a": ("a+", "a-"), "s": ("s+", "s-")},
    killers=("switch short", "overload"),
    test="ohms of each winding, ring test",
    substitute="same part or donor",
    cold_reads=(("p+", "p-", "r"), ("s+", "s-", "r"), ("a+", "a-", "r")),
    alone_reads=(("p+", "p-", "r"), ("s+", "s-", "r"), ("a+", "a-", "r")),
    symbol=FLYBACK,
)
