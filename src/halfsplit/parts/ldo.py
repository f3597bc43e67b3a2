"""Low-drop regulator of fixed volts, as it feeds 3.3 V logic from 5 V."""

from __future__ import annotations

import re
from dataclasses import replace

from halfsplit.parts.linear_regulator import params
from halfsplit.parts.regulator import FAMILY as FIXED


def typed(word: str) -> dict[str, float]:
    """1117-33 says 3.3 V, 0.8 A and 1.1 V of drop (generic type, recalled)."""
    found = re.fullmatch(r"1117-(\d)(\d)", word)
    return {"volts": float(f"{found[1]}.{found[2]}"), "amps": 0.8, "dropout": 1.1} if found else {}


FAMILY = replace(
    FIXED,
    name="ldo",
    words=("ldo", "low-drop", "1117-50", "1117-33", "1117-25", "1117-18"),
    letters=(),
    params=params(3.3, 0.5, 0.3, 1e-3),
    type_values=typed,
    killers=("load short", "input too high", "reverse volts", "a shorted ceramic on its rail"),
    test="input, output, ground: input 0.3 V above output (1.1 for 1117 types); too hot and low is a short behind it: cold "
    "ohms of its rail",
    substitute="volts equal, amps not less, dropout not more, pin order; output capacitor and its ESR as its maker asks, or it "
    "swings",
)
