"""What a rail feeds and nobody has traced, as one load."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, across, evenly, put, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import LOAD


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Draws its amps above 0.6 of its volts; a short across it is a short in it. Unplugged it shows some kilohms of junctions."""
    if s.powered:
        s.load(pins["+"], pins["-"], amps=np.maximum(v["amps"], 1e-9), volts=v["volts"])
    else:
        s.resistor(pins["+"], pins["-"], v["idle"])
    s.resistor(pins["+"], pins["-"], v["across"])


FAMILY = Family(
    name="load",
    words=("load", "board", "main"),
    letters=("J", "CN", "P"),
    pins=("+", "-"),
    params=(Param("volts", "V", 12.0, 0.0), Param("amps", "A", 0.5, 0.3, 2.0), Param("idle", "ohm", 20e3, 0.5, 4.0), across()),
    rate=0.5,
    rate_source=BENCH + ": a whole untraced board",
    ways=(
        Way("short", 0.5, BENCH, spread("across", 0.05, 5.0), "the load is shorted: unplug it", {}, "short"),
        Way("open", 0.25, BENCH, put("amps", 0.0), "the load draws nothing", {}, "open"),
        Way("heavy", 0.25, BENCH, evenly("amps", 2.0, 6.0), "the load draws too much", {}),
    ),
    stamp=stamp,
    shaken=0.3,
    heated=0.1,
    visible=True,
    main_value="amps",
    draws=True,
    plus_minus=("+", "-"),
    killers=("regulator through", "surge"),
    test="unplug it; ohms of its rail",
    substitute="none: trace it",
    cold_reads=(("+", "-", "r"),),
    alone_reads=(("+", "-", "r"),),
    left_out="terminals",
    symbol=LOAD,
)
