"""LED driver chip of a non-isolated step-down supply: switch, current sense and over-volt limit in one body, averaged.

Low side: the string and its capacitor hang from the bulk, the coil from their lower end to the drain, the freewheel diode from the drain
back to the bulk. In boundary mode the coil's mean current is half its peak, so the string gets trip/(2 x sense ohms) (common practice).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, OPEN, across, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

OFF, RUNS, TRIPPED = 0.0, 1.0, 2.0
JUST = 0.005  # how far past a threshold each state is held, so that the other one is asked for


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """The averaged cell while it drives, its supply current and clamp; unplugged what its faults leave."""
    drain = s.inner("d")
    s.resistor(pins["d"], drain, 1e-3 + v["d_open"])
    if s.powered:
        state = np.asarray(v["running"])
        on = np.where(state == OFF, 0.0, 1.0) * v["alive"]
        ceiling = np.where(state == TRIPPED, v["ovp"] * v["again"] * (1.0 - JUST), v["ovp"] * (1.0 + JUST))
        amps = np.maximum(on * v["amps"], 1e-12)
        s.buck_cell(drain, pins["cs"], pins["back"], pins["gnd"], amps=amps, mean=0.5 * np.asarray(v["trip"]), ceiling=ceiling)
        s.load(pins["vdd"], pins["gnd"], amps=(1.0 - on) * v["start"] + 1e-12, volts=1.0)
        s.load(pins["vdd"], pins["gnd"], amps=on * v["run"] + 1e-12, volts=0.05 * v["voff"], above=0.95 * v["voff"])
        # off it never rises past where it would start
        s.junction(pins["gnd"], pins["vdd"], isat=0.0, breakdown=np.where(on * v["alive"] + (1 - v["alive"]) > 0.5, v["vdd"], 1.02 * v["von"]))
    else:
        s.resistor(pins["back"], pins["gnd"], 1e12)
    s.resistor(drain, pins["cs"], v["across"])
    s.resistor(pins["vdd"], pins["gnd"], v["shorted"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Starts and stops by its supply; with the string open it stops at its over-volt limit and comes back a little under it.

    Without a freewheel diode nothing takes the coil's current over, and it counts as not running.
    """
    vdd = probe.volts("vdd", "gnd").mean(1)
    out = (probe.volts("back", "gnd") - probe.volts("d", "gnd")).mean(1)
    alive = (np.asarray(v["alive"]) > 0.5) & probe.conducts("d", "back")
    starts = (probe.volts("vdd", "gnd").max(1) >= v["von"]) & alive
    stays = (vdd > v["voff"]) & alive
    runs = np.where(out > v["ovp"], TRIPPED, RUNS)
    again = np.where(out < v["ovp"] * v["again"], RUNS, TRIPPED)
    driving = np.where(now == TRIPPED, again, runs)
    return np.asarray(np.where(now == OFF, np.where(starts, RUNS, OFF), np.where(stays, driving, OFF)))


FAMILY = Family(
    name="led-buck",
    words=("led-buck", "led-driver", "buck-switch"),
    letters=(),
    pins=("vdd", "gnd", "d", "cs", "back"),
    params=(
        Param("trip", "V", 0.4, 0.03, 1.1),
        Param("amps", "A", 1.0, 0.1, 1.3),
        Param("ovp", "V", 96.0, 0.05, 1.1),
        Param("again", "", 0.917, 0.02, 1.02),
        Param("vdd", "V", 8.5, 0.06, 1.3),
        Param("von", "V", 7.0, 0.05, 1.1),
        Param("voff", "V", 5.5, 0.05, 1.1),
        Param("start", "A", 15e-6, 0.4),
        Param("run", "A", 45e-6, 0.2),
        slot("running"),
        slot("alive", 1.0),
        Param("d_open", "ohm", 0.0, 0.0),
        Param("shorted", "ohm", 2e9, 0.0),
        across(),
    ),
    rate=0.6,
    rate_source=HDBK217 + ", silicon FET 0.11, x 5 for hard switching at line volts, as the fet of a flyback",
    ways=(
        Way("short", 0.55, BENCH, spread("across", 0.05, 2.0), "D-S shorted inside", {"cracked": 0.4, "burnt": 0.3}, "short"),
        Way("dead", 0.25, BENCH, put("alive", 0.0), "supplied but never drives", {"cracked": 0.15}, "open"),
        Way("vdd-short", 0.1, BENCH, spread("shorted", 1.0, 60.0), "its supply shorted inside", {"cracked": 0.2}, "short"),
        Way("open", 0.1, BENCH, put("d_open", OPEN), "drain open", {"cracked": 0.3}, "open"),
    ),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    mode=Mode("running", OFF, settle),
    main_value="trip",
    plus_minus=("vdd", "gnd"),
    killers=("slow or open freewheel diode", "coil's turns shorted", "bulk high", "heat of the plate"),
    test="D-S OL, its supply 6 to 12 V to its own ground, the coil's far end at the bulk's volts less the string's",
    substitute="same number: sense volts and over-volt limit differ between look-alikes",
    cold_reads=(("d", "cs", "r"), ("vdd", "gnd", "r")),
    alone_reads=(("d", "cs", "r"), ("vdd", "gnd", "r")),
    symbol=Box(("vdd", "gnd"), ("d", "cs"), inner=("back",)),
)
