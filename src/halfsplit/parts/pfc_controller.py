"""Controller of a boost stage that keeps the mains current in shape (PFC)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts import controller
from halfsplit.parts.base import Array, Family, Mode, Param, Values
from halfsplit.parts.common import HDBK217, across, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

# [V] of FB from full drive to none, and how far above the reference none is. A real loop has no such droop but a memory longer than
# the mains cycle; a proportional one settles at once, and rated load still stands at the reference.
WIDTH, ABOVE = 0.06, 0.05
CLAMP = 6.0  # [V] what its FB pin lets through to its supply at most (recalled)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Draws its current, drives the gate the more the further FB is under the reference, within what sense allows."""
    on = np.asarray(v["running"]) * v["alive"]
    if s.powered:
        s.load(pins["vcc"], pins["gnd"], amps=np.where(on > 0.5, v["run"], v["start"]) + 1e-9, volts=2.0)
        s.junction(pins["gnd"], pins["fb"], isat=0.0, breakdown=CLAMP)
        s.driver(pins["gate"], pins["gnd"], pins["fb"], pins["sense"], on=on, trip=v["trip"], low=v["ref"] + ABOVE, span=-WIDTH)
    else:
        s.driver(pins["gate"], pins["gnd"], pins["fb"], pins["sense"], on=0.0 * on - 1.0, trip=v["trip"])
    s.resistor(pins["vcc"], pins["gnd"], v["across"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Starts at von, stops under voff; held off while FB is under the guard (its string is open) or above the over-volt stop."""
    vcc, fb = probe.volts("vcc", "gnd").mean(1), probe.volts("fb", "gnd").mean(1)
    fed = np.where(now > 0.5, vcc > v["voff"], vcc > v["von"])
    allowed = (fb > v["guard"]) & (fb < v["stop"] * v["ref"])
    return np.asarray(fed & allowed & (np.asarray(v["alive"]) > 0.5), float)


FAMILY = Family(
    name="pfc-controller",
    words=("pfc-controller", "boost-controller"),
    letters=(),
    pins=("vcc", "gnd", "fb", "gate", "sense"),
    params=(
        Param("von", "V", 12.5, 0.05, 1.15),
        Param("voff", "V", 9.5, 0.06, 1.15),
        Param("start", "A", 60e-6, 0.4),
        Param("run", "A", 8e-3, 0.2),
        Param("ref", "V", 2.5, 0.012),
        Param("guard", "V", 0.45, 0.1, 1.3),
        Param("stop", "", 1.07, 0.01),
        Param("trip", "V", 0.2, 0.1, 1.5),
        slot("running"),
        slot("alive", 1.0),
        across(),
    ),
    rate=0.3,
    rate_source=HDBK217 + ", linear IC, raised for its place beside the switch",
    ways=controller.WAYS,
    stamp=stamp,
    switching=("gate",),
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    mode=Mode("running", 0.0, settle),
    main_value="von",
    plus_minus=("vcc", "gnd"),
    killers=("switch breakdown", "gate resistor", "sense resistor"),
    test="Vcc, then FB, then drive, on bench DC",
    substitute=controller.SUBSTITUTE,
    cold_reads=(("vcc", "gnd", "r"), ("fb", "gnd", "r")),
    alone_reads=(("vcc", "gnd", "r"),),
    symbol=Box(("vcc", "fb", "gnd"), ("gate", "sense")),
)
