"""Carbon composition resistor of old sets: drifts up with age and damp."""

from __future__ import annotations

from halfsplit.parts.base import Way
from halfsplit.parts.common import HDBK217, HDBK338, open_way, scaled
from halfsplit.parts.resistive import resistor_style

FAMILY = resistor_style(
    "composition",
    ("composition", "carbon-composition"),
    (
        Way("up", 0.68, HDBK338, scaled("ohms", 1.2, 2.5), "drifted up with age", {"burnt": 0.1}),
        open_way(0.32, HDBK338, "ohms", "open", burnt=0.3),
    ),
    rate=0.05,
    rate_source=HDBK217 + ", composition 0.005, raised ten-fold: only old sets have them (common practice)",
    watts=0.5,
    killers=("age", "damp", "overload behind it"),
    dies_alone=True,
    substitute="ohms equal, watts and working volts not less; film will do, save where it takes pulses of many times its watts",
)
