"""Y capacitor, from the line or the hot side to what can be touched: its two legs count as insulated from each other."""

from __future__ import annotations

from dataclasses import replace

from halfsplit.parts.base import Param, Way
from halfsplit.parts.capacitor import FAMILY as FILM
from halfsplit.parts.common import HDBK217, SHIFTED, across, put, rms_volts, spread

FAMILY = replace(
    FILM,
    name="y-cap",
    words=("y-cap", "y-capacitor"),
    letters=("CY",),
    params=(Param("farads", "F", 2.2e-9, 0.2, 2.0), Param("leak", "ohm", 1e10, 0.0), Param("esr", "ohm", 0.05, 0.5), across()),
    rate=0.05,
    rate_source=HDBK217 + ", general ceramic, raised for mains duty, common practice",
    ways=(
        Way("open", 0.4, SHIFTED, put("farads", 1e-12), "open: hum or noise, nothing stops", {"cracked": 0.3}, "open"),
        Way(
            "short", 0.3, SHIFTED, spread("across", 0.5, 50.0), "shorted: the far side is on the mains", {"cracked": 0.5}, "short"
        ),
        Way("leaky", 0.3, SHIFTED, spread("across", 1e4, 1e6), "leaky: the far side is joined to the mains", {"cracked": 0.4}),
    ),
    sides=(("a",), ("b",)),
    dies_alone=None,
    ratings=(("volts", rms_volts("a", "b")),),  # the class is marked in AC rms, with the line's tolerance in it
    killers=("surge", "age", "humidity"),
    test="ohms across it OL, out of circuit at an insulation tester's volts; capacitance",
    substitute="farads equal and never more (it bounds the touch current), class Y1 or Y2 as it was or better; an X never replaces "
    "a Y",
)
