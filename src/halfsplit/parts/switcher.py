"""Integrated switch: FET and controller of a flyback in one package, averaged over the switching period.

It feeds itself from its drain into the bypass pin, so that no winding is wanted for it. One steady mode: waiting, switching, or in the
pause of its auto-restart; a supply at its limit goes to and fro between the last two.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, CLEAR, HDBK217, OPEN, across, put, slot, spread
from halfsplit.parts.diode import saturation
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.switching_fet import LEG
from halfsplit.parts.symbols import Box

WAITS, RUNS, PAUSES = 0.0, 1.0, 2.0
LIMIT = 3.4  # [V] mean at fb: here the drive is full, and nothing pulls the pin down (as controller: full at 3.2 V)
HEADROOM = 10.0  # [V] that the bypass source wants above the pin (from memory of makers' data)
CLAMP = 6.4  # [V] shunt at the bypass pin (from memory)
LEAST = 50e-9  # [F] at the bypass pin: with less it resets itself at every edge (makers ask for 0.1 uF and more; half of it a bench estimate)
MAINS_LIKE = 100.0  # frequency at which that capacitor is sized up [Hz]
FEEDBACK = 3e3  # [ohm] behind the 5 V of the feedback pin, so that some 0.6 mA flow in the opto LED
SENSE = 30e3  # [ohm] of the line-sense pin: some 35 uA of its string let it start (25 to 50 uA, from memory)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Bypass source out of the drain, drive as fb asks, averaged power mover as of the fet, and its faults."""
    drain, gate, source = s.inner("d"), s.inner("gate"), pins["s"]
    mode = np.asarray(v["running"])
    on = np.where(mode == RUNS, 1.0, 0.0) * v["alive"]
    s.resistor(pins["d"], drain, LEG + v["d_open"])
    if s.powered:
        held = np.where(mode == PAUSES, v["voff"], v["von"])
        amps = np.maximum(v["feed"] * v["fed"], 1e-9)
        s.regulator(drain, pins["bp"], source, volts=held, drop=HEADROOM, amps=amps, quiescent=0.0)
        s.load(pins["bp"], source, amps=np.where(on > 0.5, v["run"], v["wait"]), volts=2.0)
        s.junction(source, pins["bp"], isat=0.0, breakdown=CLAMP)
        s.source(pins["fb"], source, dc=5.0 * on, ohms=FEEDBACK)
        s.resistor(pins["uv"], source, SENSE)
    else:
        s.resistor(pins["uv"], source, CLEAR)
    s.driver(gate, source, pins["fb"], source, on=on if s.powered else 0.0 * on - 1.0, trip=1.0)
    s.chopper(drain, gate, source, pins["core"], watts=v["watts"] * (1.0 if s.powered else 0.0), knee=v["knee"])
    s.junction(source, drain, isat=saturation(np.asarray(0.85), np.asarray(1.7)), ideality=1.7)
    s.resistor(drain, source, v["across"])
    s.resistor(pins["bp"], source, v["bypass"])
    s.resistor(pins["fb"], source, CLEAR)
    s.resistor(pins["core"], "N", 1e6)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Starts once bp stands at von and the line sense allows it; stops where bp sags under voff; at its limit it pauses and tries again."""
    bp, fb, uv = (probe.volts(pin, "s").mean(1) for pin in ("bp", "fb", "uv"))
    farads = 1.0 / (2 * np.pi * MAINS_LIKE * np.maximum(probe.looking_out("bp", "s", {}, MAINS_LIKE), 1e-3))
    may = (uv > v["uvon"]) & (v["alive"] > 0.5) & (farads > LEAST)
    starts = may & (bp > 0.97 * v["von"])
    lives = may & (bp > v["voff"])
    running = np.where(~lives, WAITS, np.where(fb > LIMIT, PAUSES, RUNS))
    paused = np.where(may & (bp > 0.95 * v["voff"]), RUNS, WAITS)
    return np.asarray(np.where(now == PAUSES, paused, np.where(now == RUNS, running, np.where(starts, RUNS, WAITS))))


FAMILY = Family(
    name="switcher",
    words=("switcher", "integrated-switch"),
    letters=("U", "IC"),
    pins=("d", "s", "bp", "fb", "uv", "core"),
    params=(
        Param("watts", "W", 36.0, 0.1, 1.5),
        Param("knee", "V", 6.0, 0.2, 2.0),
        Param("von", "V", 5.8, 0.03, 1.05),
        Param("voff", "V", 4.75, 0.03, 1.05),
        Param("feed", "A", 2e-3, 0.25),
        Param("run", "A", 0.6e-3, 0.25),
        Param("wait", "A", 0.25e-3, 0.25),
        Param("uvon", "V", 1.0, 0.1, 1.2),
        Param("pause", "s", 1.0, 0.99, 2.0),  # its timer: 0.5 to 2 s from try to try (common practice)
        slot("running"),
        slot("alive", 1.0),
        slot("fed", 1.0),
        Param("d_open", "ohm", 0.0, 0.0),
        across(),
        across("bypass"),
    ),
    rate=0.75,
    rate_source=HDBK217 + ", silicon FET 0.11, x 5 for hard switching at line volts, and a linear IC beside it (common practice)",
    ways=(
        Way("short", 0.55, BENCH, spread("across", 0.05, 2.0), "D-S shorted", {"cracked": 0.5, "burnt": 0.3}, "short"),
        Way("dead", 0.2, BENCH, put("alive", 0.0), "supplied but never switches", {"cracked": 0.15}, "open"),
        Way("unfed", 0.08, BENCH, put("fed", 0.0), "its bypass source dead", {"cracked": 0.1}, "open"),
        Way("bypass-short", 0.12, BENCH, spread("bypass", 1.0, 200.0), "its bypass pin shorted inside", {"cracked": 0.3}, "short"),
        Way("open", 0.05, BENCH, put("d_open", OPEN), "drain open", {"cracked": 0.4}, "open"),
    ),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    mode=Mode("running", 0.0, settle, pauses=(PAUSES, "pause")),
    main_value="watts",
    plus_minus=("d", "s"),
    aliases={"ds": ("d", "s"), "sd": ("s", "d"), "bp": ("bp", "s"), "fb": ("fb", "s"), "uv": ("uv", "s")},
    killers=("clamp open", "line-sense string", "bulk high or weak", "shorted turns", "slow rectifier"),
    test="D-S 0.4 to 0.6 V one way and OL the other; while on 5.8 V at the bypass pin",
    substitute="same number incl. suffix; the bypass capacitor of some sets current limit or restart rate: equal value",
    cold_reads=(("d", "s", "r"), ("s", "d", "d"), ("bp", "s", "r")),
    alone_reads=(("d", "s", "r"), ("s", "d", "d"), ("bp", "s", "r")),
    symbol=Box(("d", "uv", "s"), ("bp", "fb"), inner=("core",)),
)
