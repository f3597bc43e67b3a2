"""Fusible resistor: a resistor and a fuse in one body. Open, it counts as a blown fuse."""

from __future__ import annotations

from halfsplit.parts.base import Way
from halfsplit.parts.common import BENCH, HDBK217, open_way, scaled
from halfsplit.parts.resistive import FUSIBLE_TIMES, resistor_style
from halfsplit.parts.symbols import FUSIBLE

FAMILY = resistor_style(
    "fusible",
    ("fusible", "fusible-resistor", "flameproof-fusible"),
    (
        open_way(0.85, BENCH, "ohms", "open: mostly a blown fuse with a short behind it, and it shows no mark", burnt=0.3),
        Way("up", 0.15, BENCH, scaled("ohms", 1.4, 6.0), "drifted up", {"burnt": 0.2}),
    ),
    letters=("RF",),
    rate=0.12,
    rate_source=HDBK217 + ", film power",
    watts=0.5,
    times=FUSIBLE_TIMES,
    killers=("shorted bridge or rectifier", "shorted reservoir", "shorted switch", "shorted zener", "surge"),
    dies_alone=False,
    test="ohms; open without a mark is usual",
    substitute="ohms, watts and type equal: more watts would open too late; flameproof stays flameproof; never a plain resistor, "
    "never a link",
    symbol=FUSIBLE,
)
