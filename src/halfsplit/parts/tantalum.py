"""Solid tantalum capacitor: shorts, and burns where the supply lets it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, across, peak_volts, spread, wrong_value
from halfsplit.parts.electrolytic import leg_open
from halfsplit.parts.electrolytic import stamp as polarised
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import POLAR_CAPACITOR


def typical_esr(farads: Array) -> Array:
    """ESR at 100 kHz of a good one [ohm] (common practice: 1u 5, 10u 1.5, 100u 0.5)."""
    return np.asarray(1.5 * (1e-5 / np.asarray(farads, float)) ** 0.5)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """As any polarised capacitor, with an ESR that hardly ages."""
    esr = np.where(np.asarray(v["esr"]) > 0, v["esr"], typical_esr(v["farads"]) * v["esr_factor"])
    polarised(s, pins, {**v, "esr": esr, "esr_up": np.asarray(1.0)})


FAMILY = Family(
    name="tantalum",
    words=("tantalum", "tant"),
    letters=(),
    pins=("+", "-"),
    params=(
        Param("farads", "F", 1e-5, 0.15, 2.5),
        Param("volts", "V", 16.0, 0.0),
        Param("esr", "ohm", 0.0, 0.0),
        Param("esr_factor", "", 1.0, 0.4),
        Param("leak", "ohm", 1e7, 0.5),
        Param("wear", "", 1.0, 0.0),
        across(),
    ),
    rate=0.05,
    rate_source=HDBK217 + ", solid tantalum 0.018, raised: straight on a supply that can burn it (common practice)",
    ways=(
        Way("short", 0.69, HDBK338, spread("across", 0.1, 10.0), "shorted, often burnt", {"burnt": 0.6, "cracked": 0.2}, "short"),
        Way("open", 0.17, HDBK338, leg_open, "open", {"burnt": 0.3}, "open"),
        Way("leaky", 0.14, HDBK338, spread("across", 100.0, 20e3), "leaky: the short to come", {"burnt": 0.1}),
    ),
    wrong=wrong_value("farads", 1.8, 12.0, "farads"),
    stamp=stamp,
    main_value="farads",
    plus_minus=("+", "-"),
    ratings=(("volts", peak_volts("+", "-")),),
    killers=("surge", "reversed", "volts above half of its marking"),
    test="ohms both ways, then leakage at volts; the bar marks plus",
    substitute="farads equal, volts at least twice the rail, ESR not more; bar is plus; an electrolytic only where ESR and "
    "size allow",
    cold_reads=(("+", "-", "r"), ("+", "-", "esr"), ("+", "-", "c")),
    alone_reads=(("+", "-", "c"), ("+", "-", "esr"), ("+", "-", "r")),
    symbol=POLAR_CAPACITOR,
)
