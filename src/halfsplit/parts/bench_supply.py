"""The bench supply: DC behind its current limit, put on a rail of a set that is unplugged. Never a suspect, and on no sheet."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values
from halfsplit.parts.common import CLEAR
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import BATTERY

HEADROOM = 3.0  # of its raw side over its output, a number of the model [V]
LIMIT = 1.5  # the regulating element limits at so many times its amps


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Its volts while the board asks for less than its limit, else its limit; nothing flows back into it. Not connected while unplugged."""
    if s.powered:
        raw, minus = s.inner("raw"), pins["-"]
        s.source(raw, minus, dc=np.asarray(v["volts"]) + HEADROOM, ohms=0.01)
        s.regulator(raw, pins["+"], minus, volts=v["volts"], drop=0.5, amps=np.asarray(v["amps"]) / LIMIT, quiescent=0.0)
    s.resistor(pins["+"], pins["-"], CLEAR)


FAMILY = Family(
    name="bench-supply",
    words=("bench-supply",),
    letters=(),
    pins=("+", "-"),
    params=(Param("volts", "V", 12.0, 0.005), Param("amps", "A", 0.5, 0.05)),
    rate=0.0,
    rate_source="not a suspect",
    ways=(),
    stamp=stamp,
    main_value="volts",
    plus_minus=("+", "-"),
    test="its volts and its limit on a resistor you know",
    substitute="none",
    symbol=BATTERY,
)
