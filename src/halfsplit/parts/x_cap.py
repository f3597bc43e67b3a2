"""X capacitor, across the line: loses capacitance, and old ones in clear or yellow resin crack and smoke."""

from __future__ import annotations

from dataclasses import replace

from halfsplit.parts.base import Param, Way
from halfsplit.parts.capacitor import FAMILY as FILM
from halfsplit.parts.common import BENCH, HDBK217, across, evenly, put, rms_volts, spread

FAMILY = replace(
    FILM,
    name="x-cap",
    words=("x-cap", "x-capacitor"),
    letters=("CX",),
    params=(Param("farads", "F", 2.2e-7, 0.15, 3.0), Param("leak", "ohm", 1e10, 0.0), Param("esr", "ohm", 0.05, 0.5), across()),
    rate=0.12,
    rate_source=HDBK217 + ", metallised film, raised for mains duty, common practice",
    ways=(
        Way(
            "low",
            0.5,
            BENCH,
            evenly("farads", 0.15, 0.6),
            "lost capacitance by self-healing: disturbs, but nothing stops",
            {"cracked": 0.1},
        ),
        Way(
            "short",
            0.3,
            BENCH,
            spread("across", 0.1, 5.0),
            "shorted: took the fuse with it",
            {"burnt": 0.6, "cracked": 0.6},
            "short",
        ),
        Way("leaky", 0.1, BENCH, spread("across", 1e4, 1e6), "leaky and warm", {"cracked": 0.6, "burnt": 0.2}),
        Way("open", 0.1, BENCH, put("farads", 1e-12), "open", {"cracked": 0.2}, "open"),
    ),
    dies_alone=True,
    ratings=(("volts", rms_volts("a", "b")),),  # the class is marked in AC rms, with the line's tolerance in it
    killers=("age", "humidity", "surge"),
    test="look for cracks in the resin; capacitance out of circuit; ohms OL beside its bleed resistor",
    substitute="farads equal, class X2 or better (X1, or Y of the same farads), marked; its bleed resistor stays; replace on sight "
    "when cracked",
)
