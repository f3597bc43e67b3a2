"""Microcontroller: draws its current while it runs, drives the output whose control is pressed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, across, pressing, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

LISTENS = ("adc", "in", "reset")  # a pin of such a name only listens (common practice)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Supply current; each output high through 100 ohm when it is pressed and the chip runs, else low; unplugged some kilohms of junctions."""
    vdd, gnd = pins["vdd"], pins["0v"]
    if s.powered:
        runs = np.asarray(v["runs"]) * v["alive"]
        s.load(vdd, gnd, amps=v["amps"] * (0.1 + 0.9 * runs), volts=v["volts"])
        can = (runs > 0.5) & (np.asarray(v["stuck"]) < 0.5)
        for net in outputs(pins):
            asked = [np.asarray(v[pressing(pin)]) > 0.5 for pin, at in pins.items() if at == net and pressing(pin) in v]
            high = can & np.any(np.broadcast_arrays(*asked), axis=0) if asked else can & False
            s.resistor(vdd, net, np.where(high, 100.0, 1e8))
            s.resistor(net, gnd, np.where(high, 1e8, 100.0))
    else:
        s.resistor(vdd, gnd, v["idle"])
        s.resistor(pins["out"], gnd, 1e7)
    s.resistor(vdd, gnd, v["across"])


def outputs(pins: Mapping[str, str]) -> tuple[str, ...]:
    """Nets that it drives: one a leg, however many names the leg has."""
    driving = {pin: net for pin, net in pins.items() if pin not in ("vdd", "0v") and not pin.lower().startswith(LISTENS)}
    return tuple(dict.fromkeys(driving.values()))


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Runs above its stop volts; starts a little higher."""
    vdd = probe.volts("vdd", "0v").min(1)
    stop = np.where(np.asarray(v["stop"]) > 0, v["stop"], 0.85 * v["volts"])
    return np.asarray(np.where(now > 0.5, vdd > stop, vdd > 1.03 * stop), float)


FAMILY = Family(
    name="micro",
    words=("micro", "microcontroller"),
    letters=("U", "IC"),
    pins=("vdd", "0v", "out"),
    params=(
        Param("volts", "V", 5.0, 0.0),
        Param("amps", "A", 8e-3, 0.3, 2.0),
        Param("stop", "V", 0.0, 0.0),
        Param("idle", "ohm", 8e3, 0.6, 4.0),
        slot("runs"),
        slot("alive", 1.0),
        slot("stuck"),
        across(),
    ),
    rate=0.3,
    rate_source=HDBK217 + ", 8-bit MOS micro",
    ways=(
        Way("dead", 0.4, BENCH, put("alive", 0.0), "supplied but doesn't run", {}, "open"),
        Way("short", 0.4, BENCH, spread("across", 1.0, 40.0), "supply pin shorted inside", {}, "short"),
        Way("out-stuck-low", 0.2, BENCH, put("stuck", 1.0), "output never goes high", {}, "open"),
    ),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    mode=Mode("runs", 0.0, settle, charged=1.0),
    main_value="volts",
    draws=True,
    plus_minus=("vdd", "0v"),
    outputs=("out",),
    killers=("regulator through", "surge"),
    test="supply, reset, clock, outputs in this order",
    substitute="board replacement in most money terms",
    cold_reads=(("vdd", "0v", "r"),),
    alone_reads=(("vdd", "0v", "r"),),
    symbol=Box(("vdd", "adc", "0v"), ("out",)),
)
