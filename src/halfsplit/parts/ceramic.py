"""Ceramic capacitor, disc or chip: shorts or leaks where the board was flexed."""

from __future__ import annotations

from dataclasses import replace

from halfsplit.parts.base import Param, Way
from halfsplit.parts.capacitor import FAMILY as FILM
from halfsplit.parts.common import HDBK217, HDBK338, across, evenly, peak_volts, put, spread

FAMILY = replace(
    FILM,
    name="ceramic",
    shaken=0.4,
    words=("ceramic", "mlcc"),
    letters=(),
    params=(Param("farads", "F", 1e-7, 0.15, 3.0), Param("leak", "ohm", 1e10, 0.0), Param("esr", "ohm", 0.02, 0.5), across()),
    rate=0.04,
    rate_source=HDBK217 + ", general ceramic",
    ways=(
        Way(
            "short",
            0.49,
            HDBK338,
            spread("across", 0.1, 50.0),
            "shorted: a crack from flexing",
            {"cracked": 0.3, "burnt": 0.2},
            "short",
        ),
        Way("leaky", 0.2, HDBK338, spread("across", 100.0, 1e5), "leaky: a crack from flexing", {"cracked": 0.2}),
        Way(
            "low",
            0.09,
            HDBK338,
            evenly("farads", 0.2, 0.6),
            "lost capacitance",
            {"cracked": 0.2},
        ),
        Way("open", 0.22, HDBK338, put("farads", 1e-12), "open", {"cracked": 0.2}, "open"),
    ),
    dies_alone=None,
    ratings=(("volts", peak_volts("a", "b")),),
    killers=("board flex", "a screw beside it", "surge"),
    test="cold ohms of its rail; which of several in parallel: millivolts along the rail at an ampere, or heat",
    substitute="farads equal, volts not less, X7R for X5R but never Y5V; away from screws and edges, or with soft ends",
)
