"""Controller of a resonant half-bridge (LLC): both gates half of the time, its frequency as feedback asks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts import controller
from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.common import HDBK217, across, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Draws its current, pulls FB up while running, drives both gates alike: the mean of each against its own source says how far it is asked."""
    on = np.asarray(v["running"]) * v["alive"]
    gnd = pins["gnd"]
    if s.powered:
        up = s.inner("fb")  # what FB is to ground, up at the middle
        s.load(pins["vcc"], gnd, amps=np.where(on > 0.5, v["run"], v["start"]) + 1e-9, volts=2.0)
        s.source(pins["fb"], gnd, dc=5.0 * on, ohms=5e3)
        s.ideal((pins["fb"], gnd), (up, pins["vs"]), 1.0, 1e3)
        s.driver(pins["lo"], gnd, pins["fb"], pins["sense"], on=on, trip=v["trip"])
        s.driver(pins["ho"], pins["vs"], up, pins["vs"], on=on, trip=v["trip"])
        s.resistor(pins["bulk"], gnd, 100e6)
    else:
        s.driver(pins["lo"], gnd, pins["fb"], pins["sense"], on=0.0 * on - 1.0, trip=v["trip"])
        s.driver(pins["ho"], pins["vs"], pins["vs"], pins["vs"], on=0.0 * on - 1.0, trip=v["trip"])
    s.resistor(pins["vcc"], gnd, v["across"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Starts where Vcc and bulk are high enough; running it gives up under its stops, or where feedback stands at its top, and tries again."""
    vcc, bulk, fb = (probe.volts(pin, "gnd").mean(1) for pin in ("vcc", "bulk", "fb"))
    starts = (vcc > v["von"]) & (bulk > v["brown_in"])
    stays = (vcc > v["voff"]) & (bulk > v["brown_out"]) & (fb < v["over"])
    return np.asarray(np.where(now > 0.5, stays, starts) & (np.asarray(v["alive"]) > 0.5), float)


FAMILY = Family(
    name="llc-controller",
    words=("llc-controller", "half-bridge-controller", "resonant-controller"),
    letters=(),
    pins=("vcc", "gnd", "bulk", "fb", "ho", "vs", "lo", "sense"),
    params=(
        Param("von", "V", 12.0, 0.05, 1.15),
        Param("voff", "V", 9.0, 0.06, 1.15),
        Param("start", "A", 200e-6, 0.4),
        Param("run", "A", 5e-3, 0.2),
        Param("brown_in", "V", 345.0, 0.03, 1.04),
        Param("brown_out", "V", 300.0, 0.03, 1.04),
        Param("over", "V", 4.2, 0.04),
        Param("trip", "V", 0.2, 0.1, 1.5),
        slot("running"),
        slot("alive", 1.0),
        across(),
    ),
    rate=0.3,
    rate_source=HDBK217 + ", linear IC, raised for its place beside the switches",
    ways=controller.WAYS,
    stamp=stamp,
    switching=("ho", "lo"),
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    mode=Mode("running", 0.0, settle),
    main_value="von",
    plus_minus=("vcc", "gnd"),
    killers=("bridge short", "gate resistor"),
    test="Vcc, bulk above brown-in, FB, then both gates, on bench DC",
    substitute=controller.SUBSTITUTE,
    cold_reads=(("vcc", "gnd", "r"),),
    alone_reads=(("vcc", "gnd", "r"),),
    symbol=Box(("bulk", "vcc", "fb", "gnd"), ("ho", "vs", "lo", "sense")),
)
