"""High-voltage transistor of a self-oscillating flyback, averaged: it swings or it does not, and how far the limiter lets it.

Three of its legs are real, collector, base and emitter. lim, gnd and core are of the model: the base of the limiter transistor and its 0 V, which say
how hard it may swing, and the core of the transformer.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, OPEN, SHIFTED, across, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.switching_fet import LEG
from halfsplit.parts.symbols import Box

SWINGS_AT = 50e3  # [Hz] the feedback winding has to reach the base at about this frequency (common practice: 30 to 100 kHz)
PATH = (30.0, 5e3)  # [ohm] of what the base sees there: less is a short, more a feedback that doesn't get through (bench estimate)
EMITTER = 100.0  # [ohm] most below its emitter (common practice 1 to 10 ohm)
AWAKE = 0.57  # [V] at the base before it can start: some microamps of start current
LEAST = 20.0  # [V] peak at the collector to swing at all
SWINGING, BEHIND = -0.1, 1e3  # mean volts at the base while it swings, and their ohms (common practice: -1 to +0.3 V)
LEAK = 1e5  # [ohm] b-e while powered, so that a base behind an open start resistor stands at nothing, as benches find it
TRIP = 0.35  # [V] mean at lim where the limiter holds it back
KNEE = 0.5  # of the output volts, see switcher


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Ebers-Moll transistor; swinging, its base stands a little below its emitter and it moves power, as the limiter allows."""
    c, gate, full, b, e = s.inner("c"), s.inner("gate"), s.inner("full"), pins["b"], pins["e"]
    on = np.asarray(v["swings"]) * v["path"]
    s.resistor(pins["c"], c, LEG + v["c_open"])
    s.transistor(c, b, e, gain=v["gain"], pnp=False, base=v["base"], path=v["path"])
    s.resistor(c, e, v["across"])
    if s.powered:
        s.resistor(b, e, np.where(np.asarray(v["path"]) > 0.5, LEAK, OPEN))
        s.source(b, e, dc=SWINGING + 0.0 * on, ohms=np.where(on > 0.5, BEHIND, 1e10))
        s.source(full, pins["gnd"], dc=5.0 + 0.0 * on, ohms=1e3)
    else:
        s.resistor(full, pins["gnd"], 1e3)
    s.driver(gate, pins["gnd"], full, pins["lim"], on=on if s.powered else 0.0 * on - 1.0, trip=TRIP)
    s.chopper(c, gate, e, pins["core"], watts=v["watts"] * on * (1.0 if s.powered else 0.0), knee=v["knee"])
    s.resistor(gate, e, 1e6)
    s.resistor(pins["core"], "N", 1e6)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """Starts once the start resistor lifts its base; goes on while the feedback reaches it and there are volts at its collector."""
    base, top = probe.volts("b", "e").mean(1), probe.volts("c", "e").max(1)
    seen = probe.looking_out("b", "gnd", {}, SWINGS_AT)
    below = probe.looking_out("e", "gnd", {}, SWINGS_AT)
    whole = (v["gain"] > 5.0) & (v["path"] > 0.5) & (v["c_open"] < 1e6) & (below < EMITTER)
    can = (seen > PATH[0]) & (seen < PATH[1]) & whole & (top > LEAST)
    return np.asarray(np.where(can & ((now > 0.5) | (base > AWAKE)), 1.0, 0.0))


FAMILY = Family(
    name="oscillator",
    words=("oscillator", "13003-class", "13003", "hv-transistor"),
    letters=(),
    pins=("c", "b", "e", "lim", "gnd", "core"),
    params=(
        Param("watts", "W", 25.0, 0.1, 1.5),
        Param("knee", "V", 6.0, 0.2, 2.0),
        Param("gain", "", 20.0, 0.3, 1.5),
        slot("swings"),
        slot("base", 1.0),
        slot("path", 1.0),
        Param("c_open", "ohm", 0.0, 0.0),
        across(),
    ),
    rate=0.6,
    rate_source=HDBK217 + ", power transistor, raised for hard switching at line volts (common practice)",
    ways=(
        Way("short", 0.75, SHIFTED, spread("across", 0.05, 5.0), "C-E shorted", {"burnt": 0.2, "cracked": 0.3}, "short"),
        Way("open", 0.12, SHIFTED, put("c_open", OPEN), "collector open", {"cracked": 0.3}, "open"),
        Way("base-open", 0.08, SHIFTED, lambda v, u: {"base": 0.0 * u, "path": 0.0 * u}, "base open", {}, "open"),
        Way("tired", 0.05, BENCH, put("gain", 3.0), "too little gain to swing", {}),
    ),
    stamp=stamp,
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    mode=Mode("swings", 0.0, settle),
    main_value="watts",
    plus_minus=("c", "e"),
    aliases={"ce": ("c", "e"), "ec": ("e", "c"), "be": ("b", "e"), "bc": ("b", "c")},
    killers=("clamp open", "emitter resistor", "bulk dried", "shorted turns", "slow rectifier"),
    test="two junctions 0.5 to 0.7 V, C-E OL both ways",
    substitute="volts, amps and storage time of the class",
    cold_reads=(("b", "e", "d"), ("b", "c", "d"), ("c", "e", "r")),
    alone_reads=(("b", "e", "d"), ("b", "c", "d"), ("c", "e", "r")),
    symbol=Box(("c", "b", "e"), (), inner=("lim", "gnd", "core")),
)
