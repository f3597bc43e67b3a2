"""Film, ceramic, X and Y capacitors."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, HDBK338, across, peak_volts, put, scaled, spread
from halfsplit.parts.stamper import Stamper


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Capacitance with a small series resistance, its leakage, and what is across it."""
    s.capacitor(pins["a"], pins["b"], v["farads"], v["esr"])
    s.resistor(pins["a"], pins["b"], 1.0 / (1.0 / v["leak"] + 1.0 / v["across"]))


FAMILY = Family(
    name="capacitor", words=("capacitor", "cap", "film", "ceramic", "x-cap", "y-cap"), letters=("C", "CX", "CY"), pins=("a", "b"),
    params=(Param("farads", "F", 1e-7, 0.1, 3.0), Param("leak", "ohm", 1e10, 0.0), Param("esr", "ohm", 0.02, 0.5), across()),
    rate=0.12, rate_source=HDBK217 + ", metallised film, raised for mains duty, common practice",
    ways=(
        Way("low", 0.45, BENCH + " (self-healing wear of droppers)", scaled("farads", 0.15, 0.6), "lost capacitance by self-healing", {"cracked": 0.1}),
        Way("open", 0.2, HDBK338, put("farads", 1e-12), "open", {}, "open"),
        Way("short", 0.25, HDBK338, spread("across", 0.1, 5.0), "shorted", {"burnt": 0.4, "cracked": 0.4}, "short"),
        Way("leaky", 0.1, HDBK338, spread("across", 1e4, 1e6), "leaky", {"cracked": 0.2}),
    ),
    stamp=stamp, main_value="farads", plus_minus=("a", "b"), ratings=(("volts", peak_volts("a", "b")),),
    killers=("surge", "humidity", "age"),
    test="capacitance out of circuit; ohms: OL after it has charged",
    substitute="X and Y: same class or higher, value equal; an X never replaces a Y; series-impedance grade for a dropper",
)
