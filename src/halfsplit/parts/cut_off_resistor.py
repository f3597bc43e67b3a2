"""Power resistor with a one-shot thermal cut-off in its body: overload opens it for good before anything smokes."""

from __future__ import annotations

from halfsplit.parts.base import Way
from halfsplit.parts.common import BENCH, open_way, scaled
from halfsplit.parts.resistive import resistor_style
from halfsplit.parts.symbols import CUT_OFF_RESISTOR

FAMILY = resistor_style(
    "cut-off-resistor",
    ("cut-off-resistor", "thermal-cut-off"),
    (
        open_way(0.9, BENCH, "ohms", "its cut-off is gone: something drew too much through it, or it got too hot where it sits"),
        Way("up", 0.1, BENCH, scaled("ohms", 1.4, 6.0), "drifted up", {"burnt": 0.2}),
    ),
    rate=0.25,
    rate_source=BENCH + ": runs hot all its life",
    watts=5.0,
    times=2.0,  # the link in the body goes at some 150 K above the room, which twice its watts make for good (bench estimate)
    killers=("shorted load or motor", "relay that should bypass it", "blocked fan", "heat where it sits"),
    dies_alone=False,
    test="ohms; open: its cut-off; look behind it before anything else",
    substitute="ohms, watts and temperature equal, with a cut-off inside; never a plain resistor, never a link across",
    symbol=CUT_OFF_RESISTOR,
)
