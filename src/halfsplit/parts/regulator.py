"""Three-terminal regulator."""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import BENCH, CLEAR, HDBK217, SHIFTED, across, peak_volts, put, slot, spread
from halfsplit.parts.stamper import Stamper


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Regulated current from in to out, quiescent current to gnd, and its faults."""
    if s.powered:
        s.regulator(
            pins["in"],
            pins["out"],
            pins["gnd"],
            volts=v["volts"] * v["low"],
            drop=v["dropout"],
            amps=np.maximum(v["amps"] * v["path"], 1e-9),
            quiescent=v["quiescent"],
        )
    s.resistor(pins["in"], pins["out"], v["through"])
    s.resistor(pins["out"], pins["gnd"], v["across"])


def typed(word: str) -> dict[str, float]:
    """78xx and 79xx say their volts, an L in them 100 mA (generic types, recalled)."""
    found = re.fullmatch(r"(78|79)(l|m)?(\d\d)", word.lower())
    if not found:
        return {}
    sign = 1.0 if found[1] == "78" else -1.0
    return {"volts": sign * float(found[3]), "amps": {"l": 0.1, "m": 0.5}.get(found[2] or "", 1.0)}


def _low(v: Values, u: Array) -> dict[str, Array]:
    return {"low": 0.4 + 0.45 * np.asarray(u)}


FAMILY = Family(
    name="regulator",
    words=("regulator", "78l05", "7805", "7812", "7815", "7905", "7912", "7915", "7808", "7809", "7824", "ldo"),
    letters=("U", "VR", "IC"),
    pins=("in", "out", "gnd"),
    params=(
        Param("volts", "V", 5.0, 0.03, 1.5),
        Param("amps", "A", 1.0, 0.1),
        Param("dropout", "V", 2.0, 0.15),
        Param("quiescent", "A", 5e-3, 0.3),
        slot("low", 1.0),
        slot("path", 1.0),
        Param("through", "ohm", CLEAR, 0.0),
        across(),
    ),
    rate=0.25,
    rate_source=HDBK217 + ", linear IC with power, raised",
    ways=(
        Way("no-output", 0.45, SHIFTED, put("path", 0.0), "input there, no output", {}, "open"),
        Way(
            "through",
            0.2,
            BENCH,
            spread("through", 0.1, 3.0),
            "input straight through to the output: everything behind it at risk",
            {},
            "short",
        ),
        Way("out-short", 0.15, BENCH, spread("across", 0.2, 10.0), "output shorted inside", {"cracked": 0.3}, "short"),
        Way("low", 0.2, SHIFTED, _low, "output low", {}),
    ),
    stamp=stamp,
    dies_alone=False,
    type_values=typed,
    main_value="volts",
    plus_minus=("out", "gnd"),
    aliases={"io": ("in", "out")},
    ratings=(("in volts", peak_volts("in", "gnd")),),
    killers=("load short", "input too high", "reverse volts"),
    test="input, output, ground: input 2 V above output at the bottom of the ripple",
    substitute="volts equal, amps not less, dropout not more; pin order differs for negative and LDO types",
    cold_reads=(("in", "gnd", "r"), ("out", "gnd", "r"), ("in", "out", "r")),
    alone_reads=(("out", "gnd", "r"), ("in", "out", "r")),
)
