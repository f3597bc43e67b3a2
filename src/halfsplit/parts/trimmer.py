"""Trimmer: set once with a screwdriver, so that nobody knows from its marking where its wiper stands."""

from __future__ import annotations

from halfsplit.parts.variable import variable

FAMILY = variable(
    "trimmer",
    ("trimmer", "rheostat"),
    letters=("VR", "RV"),
    set_within=0.2,
    rate=0.4,
    test="end to end its marking; wiper to each end together the same, without jumps as it is turned; wiper to track OL: gone",
    substitute="ohms equal, sealed type, watts not less; as a rheostat the wiper is strapped to one end, so that a lost wiper leaves the whole track",
)
