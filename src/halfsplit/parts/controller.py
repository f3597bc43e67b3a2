"""Controller of a switching supply, as one steady mode: off, running, or hiccuping between the two."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, across, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

MAINS_LIKE = 100.0  # frequency at which its supply capacitor is sized up [Hz]
HOLD_UP = 4e-3  # [s]
OFF, RUNS, STARVED = 0.0, 1.0, 2.0
WAYS = (
    Way("dead", 0.6, BENCH, put("alive", 0.0), "supplied but never drives", {"cracked": 0.15}, "open"),
    Way("vcc-short", 0.4, BENCH, spread("across", 1.0, 60.0), "its Vcc shorted inside", {"cracked": 0.3}, "short"),
)
SUBSTITUTE = "same number incl. suffix; look-alikes are not equal"


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Draws its start or run current, pulls fb up while running, drives the gate as fb asks and sense allows.

    Starved, it starts and falls back many times a second: nothing comes of it, and its supply stands between both volts.
    """
    on = np.where(np.asarray(v["running"]) == RUNS, 1.0, 0.0) * v["alive"]
    if s.powered:
        # Neither steady mode may wander where the other takes over: off it never rises past von, running it never sags past voff.
        s.load(pins["vcc"], pins["gnd"], amps=(1 - on) * v["start"] + 1e-9, volts=2.0)
        s.load(pins["vcc"], pins["gnd"], amps=on * v["run"] + 1e-9, volts=0.05 * v["voff"], above=0.95 * v["voff"])
        rest = np.where(np.asarray(v["running"]) == STARVED, 0.5 * (v["von"] + v["voff"]), 1.02 * v["von"])
        s.junction(pins["gnd"], pins["vcc"], isat=0.0, breakdown=np.where(on > 0.5, 1.25 * v["ovp"], rest))
        s.source(pins["fb"], pins["gnd"], dc=5.0 * on, ohms=5e3)
    s.driver(pins["gate"], pins["gnd"], pins["fb"], pins["sense"], on=on if s.powered else 0.0 * on - 1.0, trip=v["trip"])
    s.resistor(pins["vcc"], pins["gnd"], v["across"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Starts at von, stops under voff or above ovp; starved once and for all where its capacitor can't carry the start."""
    vcc = probe.volts("vcc", "gnd")
    starts = (vcc.max(1) >= v["von"]) & (v["alive"] > 0.5)
    runs = (vcc.mean(1) > v["voff"]) & (vcc.mean(1) < v["ovp"])
    # Until the aux winding feeds it, it lives on its capacitor: that has to last (4 ms, bench estimate), or it falls back at once.
    farads = 1.0 / (2 * np.pi * MAINS_LIKE * np.maximum(probe.looking_out("vcc", "gnd", {}, MAINS_LIKE), 1e-3))
    lasts = farads * (v["von"] - v["voff"]) / v["run"] > HOLD_UP
    first = np.where(starts, np.where(lasts, RUNS, STARVED), OFF)
    return np.asarray(np.where(now == STARVED, STARVED, np.where(now == RUNS, np.where(runs, RUNS, OFF), first)))


def falls(probe: Any, v: Values) -> Any:
    """Where, running, it would stop: under voff or above ovp."""
    vcc = probe.volts("vcc", "gnd")
    return (vcc < np.asarray(v["voff"])[..., None]) | (vcc > np.asarray(v["ovp"])[..., None])


def span(v: Values) -> tuple[Array, Array]:
    """Its supply comes up from voff to von."""
    return v["voff"], v["von"]


def _other_type(v: Values, u: Array) -> dict[str, Array]:
    """Same pins, other thresholds: 16/10 V and 8.4/7.6 V types stand side by side in the lists (makers' data, recalled)."""
    high = np.asarray(v["von"]) > 12.0
    return {"von": np.where(high, 8.4, 16.0) + 0.0 * u, "voff": np.where(high, 7.6, 10.0) + 0.0 * u}


def typed(word: str) -> dict[str, float]:
    """A 3842 waits with some 0.3 mA, where newer chips want a fifth of that (makers' data, recalled: 0.5 mA at most in the later versions)."""
    return {"start": 0.3e-3} if re.match(r"(uc)?384[2-5]", word.lower()) else {}


FAMILY = Family(
    name="controller",
    words=("controller", "3842-type", "pwm"),
    letters=("U", "IC"),
    pins=("vcc", "gnd", "gate", "sense", "fb"),
    params=(
        # of a chip that bears no volts those of its starting sheet count, and they go with a type (makers' data, recalled)
        Param("von", "V", 16.0, 0.04, 1.08),
        Param("voff", "V", 10.0, 0.05, 1.08),
        Param("start", "A", 60e-6, 0.4),
        Param("run", "A", 8e-3, 0.2),
        Param("ovp", "V", 28.0, 0.05, 1.15),
        Param("trip", "V", 0.2, 0.1, 1.3),
        slot("running"),
        slot("alive", 1.0),
        across(),
    ),
    rate=0.35,
    rate_source=HDBK217 + ", linear IC, raised for its place beside the switch",
    ways=WAYS,
    wrong=(Way("wrong part", 1.0, BENCH, _other_type, "the type of the other thresholds fitted", {}, "wrong"),),
    stamp=stamp,
    switching=("gate",),
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    mode=Mode("running", 0.0, settle, falls=falls, supply=("vcc", "gnd", span)),
    main_value="von",
    type_values=typed,
    plus_minus=("vcc", "gnd"),
    killers=("switch breakdown", "gate resistor", "Vcc zener"),
    test="Vcc, then drive, on bench DC",
    substitute=SUBSTITUTE,
    cold_reads=(("vcc", "gnd", "r"),),
    alone_reads=(("vcc", "gnd", "r"),),
    symbol=Box(("vcc", "fb", "gnd"), ("gate", "sense")),
)
