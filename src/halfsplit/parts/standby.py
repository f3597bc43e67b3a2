"""A standby supply that is always on, taken as one block: from the bulk to Vcc on the hot side and a few volts on the cold one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import BENCH, across, put, scaled, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import Box

STARTS, STOPS = 80.0, 60.0  # bulk volts [V] (common practice: they start on half of 120 V mains)
AUX_OHMS, OUT_OHMS = 5.0, 0.02


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Both outputs held behind small resistances while it runs; constant watts from the bulk; an amp-meter can't find idle junctions in it."""
    on = np.asarray(v["runs"]) * v["alive"]
    if s.powered:
        s.power(pins["in+"], pins["in-"], watts=v["watts"] * on + 1e-6, volts=STARTS)
        s.source(pins["s+"], pins["s-"], dc=v["volts"] * on, ohms=np.where(on > 0.5, OUT_OHMS, 1e4))
        s.source(pins["v+"], pins["v-"], dc=v["aux"] * on * v["feeds"], ohms=np.where(on * v["feeds"] > 0.5, AUX_OHMS, 1e5))
    else:
        s.resistor(pins["s+"], pins["s-"], 1e6)
        s.resistor(pins["v+"], pins["v-"], 1e6)
    s.resistor(pins["in+"], pins["in-"], v["across"])


def settle(probe: Any, v: Values, now: Array) -> Array:
    """On from STARTS to STOPS of bulk; with an output overloaded it gives up and tries again."""
    bulk = probe.volts("in+", "in-").mean(1)
    out, aux = probe.volts("s+", "s-").mean(1), probe.volts("v+", "v-").mean(1)
    good = (out > 0.6 * v["volts"]) & ((aux > 0.5 * v["aux"]) | (np.asarray(v["feeds"]) < 0.5))
    alive = np.asarray(v["alive"]) > 0.5
    return np.asarray(np.where(now > 0.5, (bulk > STOPS) & good, bulk > STARTS) & alive, float)


FAMILY = Family(
    name="standby",
    words=("standby", "standby-supply"),
    letters=(),
    pins=("in+", "in-", "v+", "v-", "s+", "s-"),
    params=(
        Param("volts", "V", 5.0, 0.04, 1.05),
        Param("aux", "V", 15.5, 0.04, 1.15),
        Param("watts", "W", 4.0, 0.4, 2.0),
        Param("feeds", "", 1.0, 0.0),
        slot("runs", 1.0),
        slot("alive", 1.0),
        across(),
    ),
    rate=0.8,
    rate_source=BENCH + ": a small supply that is on day and night, all its parts together",
    ways=(
        Way("dead", 0.55, BENCH, put("alive", 0.0), "the standby supply gives nothing", {"burnt": 0.15}, "open"),
        Way("low", 0.15, BENCH, scaled("volts", 0.7, 0.9), "its output is low: capacitors tired, or overloaded", {}),
        Way("no-aux", 0.15, BENCH, put("feeds", 0.0), "its Vcc winding, diode or resistor open", {}, "open"),
        Way("short", 0.15, BENCH, spread("across", 0.1, 5.0), "its switch shorted", {"cracked": 0.5, "burnt": 0.3}, "short"),
    ),
    stamp=stamp,
    shaken=0.2,
    heated=0.2,
    sides=(("in+", "in-", "v+", "v-"), ("s+", "s-")),
    mode=Mode("runs", 1.0, settle),
    main_value="volts",
    plus_minus=("s+", "s-"),
    visible=True,
    killers=("age: it never rests", "tired electrolytics", "surge"),
    test="its output, its Vcc output; then as a supply of its own",
    substitute="repair as a supply of its own, or donor board",
    cold_reads=(("in+", "in-", "r"), ("s+", "s-", "r"), ("v+", "v-", "r")),
    alone_reads=(("in+", "in-", "r"),),
    symbol=Box(("in+", "in-"), ("s+", "s-", "v+", "v-"), "standby"),
)
