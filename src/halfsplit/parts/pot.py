"""Potentiometer on a panel: whoever stands before it has set it to what the sheet says."""

from __future__ import annotations

from halfsplit.parts.variable import variable

FAMILY = variable(
    "pot",
    ("pot", "potentiometer", "slider"),
    letters=(),
    set_within=0.02,
    rate=0.6,
    test="end to end its marking; wiper to an end rises evenly as it is turned, without jumps",
    substitute="ohms and taper equal, watts not less, shaft and travel as original",
)
