"""Aluminium electrolytic. Dries up: series resistance first, then capacitance."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, across, between, peak_volts, scaled, spread, wrong_value
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import POLAR_CAPACITOR

SHARES = "repair practice in switch-mode supplies: high ESR or low C about 80 %, leaking 15 %, short 5 %, bench estimate"


def typical_esr(farads: Array) -> Array:
    """ESR at 100 kHz, 20 C of a good one [ohm]; fits common-practice tables (10u 1.6, 100u 0.3, 1000u 0.06)."""
    return np.asarray(0.3 * (1e-4 / np.asarray(farads, float)) ** 0.7)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Capacitance behind its ESR, leakage and what is across."""
    esr = np.where(np.asarray(v["esr"]) > 0, v["esr"], typical_esr(v["farads"]) * v["esr_factor"])
    s.capacitor(pins["+"], pins["-"], v["farads"] * v["wear"], esr * v["esr_up"])
    s.resistor(pins["+"], pins["-"], 1.0 / (1.0 / v["leak"] + 1.0 / v["across"]))


def _dried(v: Values, u: Array) -> dict[str, Array]:
    """The drier, the less capacitance and the more series resistance; how much more differs from make to make (2.5 times either way)."""
    apart = 2.0 * np.mod(7.0 * np.asarray(u, float), 1.0) - 1.0  # goes its own way as u runs, and is nothing at the middle
    return {"wear": between(0.6, 0.03, u), "esr_up": between(6.0, 30.0, u) * 2.5**apart}


def leg_open(v: Values, u: Array) -> dict[str, Array]:
    """A leg let go: a picofarad of stray is left, and no leakage."""
    return {"wear": 1e-12 / np.asarray(v["farads"]) + 0.0 * u, "leak": np.full(np.shape(u), 1e10)}


FAMILY = Family(
    name="electrolytic",
    words=("electrolytic", "elco", "lytic", "bulk", "reservoir"),
    letters=("C",),
    pins=("+", "-"),
    params=(
        Param("farads", "F", 1e-4, 0.2, 2.5),
        Param("volts", "V", 35.0, 0.0),
        Param("esr", "ohm", 0.0, 0.0),
        Param("esr_factor", "", 1.0, 0.4),
        Param("leak", "ohm", 1e7, 0.5),
        Param("wear", "", 1.0, 0.0),
        Param("esr_up", "", 1.0, 0.0),
        across(),
    ),
    rate=0.9,
    rate_source=HDBK217 + ", aluminium oxide 0.24, x 4 for wear-out of ten-year-old sets (common practice)",
    ways=(
        Way("dried", 0.5, SHARES, _dried, "dried up: capacitance gone, ESR up", {"domed": 0.35, "leaked": 0.15}),
        Way("high-esr", 0.3, SHARES, scaled("esr_up", 4.0, 40.0), "ESR up", {"domed": 0.25}),
        Way("leaky", 0.08, SHARES, spread("across", 300.0, 30e3), "leaky", {"domed": 0.3, "leaked": 0.5}),
        Way("short", 0.05, SHARES, spread("across", 0.05, 5.0), "shorted", {"domed": 0.4, "vented": 0.4}, "short"),
        Way("open", 0.07, BENCH, leg_open, "open: a leg or the inside has let go", {"leaked": 0.3}, "open"),
    ),
    wrong=wrong_value("farads", 1.8, 12.0, "farads"),
    stamp=stamp,
    shaken=0.15,
    heated=0.4,
    dies_alone=True,
    main_value="farads",
    plus_minus=("+", "-"),
    ratings=(("volts", peak_volts("+", "-")),),
    killers=("age", "heat", "over-volts", "ripple"),
    test="ESR, then capacitance, then leakage at volts; condemn above 2 to 3 times typical ESR or below 80 % capacitance",
    substitute="farads -0/+50 % (timing and Vcc equal), volts and 105 C and ripple not less, ESR not more; fits",
    cold_reads=(("+", "-", "r"), ("+", "-", "esr"), ("+", "-", "c")),
    alone_reads=(("+", "-", "c"), ("+", "-", "esr"), ("+", "-", "r")),
    symbol=POLAR_CAPACITOR,
)
