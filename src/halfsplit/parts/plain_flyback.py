"""Flyback transformer without an auxiliary winding, as beside a chip that feeds itself from its drain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from halfsplit.parts import flyback
from halfsplit.parts.base import Array, Family, Mode, Values
from halfsplit.parts.common import OPEN
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import PLAIN_FLYBACK

PINS = ("p+", "p-", "s+", "s-", "core")
GONE = ("aux", "ra", "a_open")


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """As flyback, with its one secondary."""
    s.resistor(pins["p+"], pins["p-"], v["rp"] + v["p_open"])
    flyback.secondary(s, pins, v)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """As flyback: a secondary that lets current flow backwards through its winding overloads the stage."""
    return np.asarray(probe.looking_out("s+", "s-", {"s_open": OPEN}) < flyback.BACKWARDS, float)


FAMILY: Family = replace(
    flyback.FAMILY,
    switching=("p-", "s+", "core"),
    name="plain-flyback",
    words=("plain-flyback", "two-winding"),
    letters=(),
    pins=PINS,
    params=tuple(p for p in flyback.FAMILY.params if p.name not in GONE),
    ways=tuple(
        replace(w, share=round(w.share / 0.85, 3)) for w in flyback.FAMILY.ways if w.name != "aux-open"
    ),  # the shares of the others, made whole again
    stamp=stamp,
    sides=(("p+", "p-", "core"), ("s+", "s-")),
    mode=Mode("kick", 0.0, settle, latching=True),
    main_value="out",
    aliases={"p": ("p+", "p-"), "s": ("s+", "s-")},
    cold_reads=(("p+", "p-", "r"), ("s+", "s-", "r")),
    alone_reads=(("p+", "p-", "r"), ("s+", "s-", "r")),
    symbol=PLAIN_FLYBACK,
)
