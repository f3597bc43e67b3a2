"""A load that draws constant power, as a switching module does: the lower its rail, the more current."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, across, evenly, put, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import POWER_LOAD


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Constant watts while on; unplugged some kilohms of junctions."""
    if s.powered:
        s.power(pins["+"], pins["-"], watts=np.maximum(v["watts"], 1e-9), volts=v["volts"])
        s.resistor(pins["+"], pins["-"], v["across"])
    else:
        s.resistor(pins["+"], pins["-"], 1.0 / (1.0 / v["idle"] + 1.0 / v["across"]))


FAMILY = Family(
    name="power-load",
    words=("power-load", "converter", "buck", "module"),
    letters=(),
    pins=("+", "-"),
    params=(
        Param("volts", "V", 12.0, 0.0),
        Param("watts", "W", 5.0, 0.3, 2.0),
        Param("idle", "ohm", 20e3, 0.5, 4.0),
        across(),
    ),
    rate=0.5,
    rate_source=BENCH + ": a whole module",
    ways=(
        Way("short", 0.5, BENCH, spread("across", 0.05, 5.0), "its input is shorted: unplug it", {}, "short"),
        Way("open", 0.3, BENCH, put("watts", 0.0), "it draws nothing", {}, "open"),
        Way("heavy", 0.2, BENCH, evenly("watts", 2.0, 4.0), "it draws too much", {}),
    ),
    stamp=stamp,
    shaken=0.3,
    heated=0.1,
    visible=True,
    main_value="watts",
    plus_minus=("+", "-"),
    killers=("surge", "reversed supply", "its own output shorted"),
    test="unplug it; ohms of its input; alone on a bench supply with the current limited",
    substitute="input volts not less, output volts equal, amps not less",
    cold_reads=(("+", "-", "r"),),
    alone_reads=(("+", "-", "r"),),
    symbol=POWER_LOAD,
)
