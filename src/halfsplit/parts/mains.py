"""The wall outlet: a sine source behind the resistance of the line. Never a suspect; "mains off" is a bench slip."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import MAINS


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Source while plugged in, nothing at all while unplugged."""
    if s.powered:
        s.source(pins["L"], pins["N"], peak=np.sqrt(2.0) * v["volts"], ohms=v["ohms"])
    else:
        s.resistor(pins["L"], pins["N"], 1e12)


FAMILY = Family(
    name="mains",
    words=("mains", "outlet"),
    letters=(),
    pins=("L", "N"),
    params=(Param("volts", "V", 230.0, 0.04), Param("hertz", "Hz", 50.0, 0.0), Param("ohms", "ohm", 0.6, 0.3)),
    rate=0.0,
    rate_source="not a suspect",
    ways=(),
    stamp=stamp,
    outlet=True,
    main_value="volts",
    plus_minus=("L", "N"),
    cold_reads=(("L", "N", "r"),),  # at the plug: the first reading of the trade, with no screw undone
    test="AC volts at the inlet of the set, first live reading of every session",
    substitute="none",
    symbol=MAINS,
)
