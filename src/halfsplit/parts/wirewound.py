"""Wirewound resistor, cement or vitreous: power, sense and emitter resistors. Opens; shorted turns are rare but happen."""

from __future__ import annotations

from dataclasses import replace

from halfsplit.parts.base import Way
from halfsplit.parts.common import HDBK217, HDBK338, evenly, open_way, scaled
from halfsplit.parts.resistive import resistor_style

_STYLE = resistor_style(
    "wirewound",
    ("wirewound", "wire-wound", "cement"),
    (
        open_way(0.65, HDBK338, "ohms", "wire parted, mostly at the cap", burnt=0.2, cracked=0.3),
        Way("up", 0.26, HDBK338, scaled("ohms", 1.2, 3.0), "crept up: corroded at the cap", {"cracked": 0.2}),
        Way(
            "low",
            0.09,
            HDBK338,
            evenly("ohms", 0.3, 0.8),
            "turns shorted",
            {"burnt": 0.4},
            "short",
        ),
    ),
    rate=0.14,
    rate_source=HDBK217 + ", power wirewound",
    watts=5.0,
    killers=("overload behind it", "damp at the cap", "vibration"),
    substitute="ohms equal, watts not less, stood off the board as it was; a coil: never in a snubber nor for fast sensing",
)
# It stands where its millivolts tell a current: emitter resistor, shunt, ballast (common practice).
FAMILY = replace(_STYLE, drop_live={"": ("a", "b")})
