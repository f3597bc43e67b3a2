"""Plug-in adapter: mains in, one isolated DC output with its current limit. A lump: what is inside it isn't traced."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, OPEN, across, evenly, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

LEAST = 80.0  # a wide-range one starts above this many volts rms (common practice: marked 100 to 240 V)
HEADROOM = 2.0  # of its raw side over the output, a number of the model [V]


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Regulated volts behind its cable while it is fed; unplugged the divider at its output. Its mains side is only a leak."""
    s.resistor(pins["L"], pins["N"], 1e6)
    plug = s.inner("plug")
    if s.powered:
        raw, minus = s.inner("raw"), pins["-"]
        fed = np.asarray(v["fed"]) * v["alive"]
        volts = np.asarray(v["volts"]) * v["worn"]
        s.source(raw, minus, dc=fed * (volts + HEADROOM), ohms=0.01)
        s.regulator(raw, plug, minus, volts=volts, drop=0.5, amps=np.maximum(v["amps"] * v["strength"], 1e-9), quiescent=0.0)
    s.resistor(plug, pins["-"], v["idle"])
    s.resistor(plug, pins["-"], v["across"])
    s.resistor(plug, pins["+"], v["ohms"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Works from a little under the lowest mains up."""
    return np.asarray(np.sqrt((probe.volts("L", "N") ** 2).mean(1)) > LEAST, float)


FAMILY = Family(
    name="adapter",
    words=("adapter", "adaptor", "plug-in-adapter", "mains-adapter", "power-brick"),
    letters=(),
    pins=("L", "N", "+", "-"),
    params=(
        Param("volts", "V", 12.0, 0.03, 1.1),
        Param("amps", "A", 1.0, 0.1, 1.5),
        Param("ohms", "ohm", 0.05, 0.5, 2.0),
        Param("idle", "ohm", 10e3, 0.5, 4.0),
        slot("fed"),
        slot("alive", 1.0),
        slot("worn", 1.0),
        slot("strength", 1.0),
        across(),
    ),
    rate=0.8,
    rate_source=BENCH + ": a whole supply, cheaply made, and a cable that is bent daily",
    ways=(
        Way("dead", 0.4, BENCH, put("alive", 0.0), "mains there, nothing comes out", {}, "open"),
        Way("cable-open", 0.25, BENCH, put("ohms", OPEN), "its cable or plug is broken inside", {}, "open"),
        Way("weak", 0.2, BENCH, evenly("strength", 0.05, 0.4), "right volts unloaded, falls away under load", {}),
        Way("cable-short", 0.1, BENCH, spread("across", 0.05, 2.0), "its cable is shorted", {}, "short"),
        Way("low", 0.05, BENCH, evenly("worn", 0.5, 0.9), "volts low at any load", {}),
    ),
    stamp=stamp,
    shaken=0.5,
    heated=0.1,
    dies_alone=True,
    sides=(("L", "N"), ("+", "-")),
    mode=Mode("fed", 0.0, settle),
    main_value="volts",
    plus_minus=("+", "-"),
    killers=("age", "pull on the cable", "surge"),
    test="volts at its plug, without load and at its rated amps",
    substitute="volts equal, amps not less, polarity and plug as they were, class II of its own",
    cold_reads=(("+", "-", "r"),),
    alone_reads=(("+", "-", "r"),),
    symbol=Box(("L", "N"), ("+", "-")),
)
