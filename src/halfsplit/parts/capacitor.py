"""Film capacitor, and any unpolarised one whose style nobody wrote; X2 or Y1 behind its value is its class."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, SHIFTED, across, evenly, put, slot, spread, wrong_value
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import CAPACITOR


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Capacitance with a small series resistance, its leakage, and what is across it."""
    s.capacitor(pins["a"], pins["b"], v["farads"], v["esr"])
    s.resistor(pins["a"], pins["b"], 1.0 / (1.0 / v["leak"] + 1.0 / v["across"]))


def volts(probe: Any, v: Values) -> Array:
    """Stress on its volts: X and Y classes are rated in AC rms with the line's tolerance in it, others in peak volts."""
    wave = np.abs(probe.volts("a", "b"))
    safety = v["x1"] + v["x2"] + v["y1"] + v["y2"] > 0.5
    return np.asarray(np.where(safety, np.sqrt((wave**2).mean(1)), wave.max(1)))


FAMILY = Family(
    name="capacitor",
    words=("capacitor", "cap", "film"),
    letters=("C",),
    pins=("a", "b"),
    params=(
        Param("farads", "F", 1e-7, 0.1, 3.0),
        Param("leak", "ohm", 1e10, 0.0),
        Param("esr", "ohm", 0.02, 0.5),
        across(),
        slot("x1"),
        slot("x2"),
        slot("y1"),
        slot("y2"),
    ),
    rate=0.12,
    rate_source=HDBK217 + ", metallised film, raised for mains duty, common practice",
    ways=(
        Way(
            "low",
            0.45,
            BENCH + " (self-healing wear of droppers)",
            evenly("farads", 0.15, 0.6),
            "lost capacitance by self-healing",
            {"cracked": 0.1},
        ),
        Way("open", 0.2, SHIFTED, put("farads", 1e-12), "open", {}, "open"),
        Way("short", 0.25, SHIFTED, spread("across", 0.1, 5.0), "shorted", {"burnt": 0.4, "cracked": 0.4}, "short"),
        Way("leaky", 0.1, SHIFTED, spread("across", 1e4, 1e6), "leaky", {"cracked": 0.2}),
    ),
    wrong=wrong_value("farads", 1.8, 12.0, "farads"),
    stamp=stamp,
    main_value="farads",
    plus_minus=("a", "b"),
    ratings=(("volts", volts),),
    killers=("surge", "humidity", "age"),
    test="capacitance out of circuit; ohms: OL after it has charged",
    substitute="X and Y: same class or higher, value equal; an X never replaces a Y; series-impedance grade for a dropper",
    cold_reads=(("a", "b", "r"), ("a", "b", "c")),
    alone_reads=(("a", "b", "c"), ("a", "b", "r")),
    symbol=CAPACITOR,
)
