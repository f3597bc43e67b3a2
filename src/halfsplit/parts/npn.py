"""Bipolar transistor, npn."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Values
from halfsplit.parts.bipolar import (
    OUTPUT,
    PARAMS,
    RATE,
    RATE_SOURCE,
    SPREADER,
    SUBSTITUTE,
    TEST,
    WRONG,
    rated,
    watts_lost,
    ways,
    wire,
)
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import NPN


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Ebers-Moll, npn."""
    wire(s, pins, v, pnp=False)


FAMILY = Family(
    name="npn",
    words=(
        "npn",
        "transistor",
        "driver",
    ),
    letters=("Q",),
    pins=("b", "c", "e"),
    params=PARAMS,
    rate=RATE,
    rate_source=RATE_SOURCE,
    ways=ways(),
    wrong=WRONG,
    stamp=stamp,
    rated_values=rated,
    left_out=OUTPUT,
    drop_live={SPREADER: ("c", "e")},
    ratings=(("watts", watts_lost(pnp=False)),),
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    plus_minus=("c", "e"),
    aliases={"ce": ("c", "e"), "ec": ("e", "c"), "be": ("b", "e"), "bc": ("b", "c")},
    killers=("flyback diode open", "shorted coil", "overload"),
    test=TEST,
    substitute=SUBSTITUTE,
    cold_reads=(("b", "e", "d"), ("b", "c", "d"), ("c", "e", "r")),
    alone_reads=(("b", "e", "d"), ("b", "c", "d"), ("c", "e", "r")),
    symbol=NPN,
)
