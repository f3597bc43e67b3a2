"""Bipolar transistor, pnp."""

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
from halfsplit.parts.symbols import PNP


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Ebers-Moll, pnp."""
    wire(s, pins, v, pnp=True)


FAMILY = Family(
    name="pnp",
    words=("pnp",),
    letters=(),
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
    ratings=(("watts", watts_lost(pnp=True)),),
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    plus_minus=("e", "c"),
    aliases={"ce": ("c", "e"), "ec": ("e", "c"), "be": ("b", "e"), "bc": ("b", "c")},
    killers=("flyback diode open", "shorted coil", "overload"),
    test=TEST,
    substitute=SUBSTITUTE,
    cold_reads=(("e", "b", "d"), ("c", "b", "d"), ("e", "c", "r")),
    alone_reads=(("e", "b", "d"), ("c", "b", "d"), ("e", "c", "r")),
    symbol=PNP,
)
