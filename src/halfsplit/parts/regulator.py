"""Three-terminal regulator of fixed volts."""

from __future__ import annotations

import re
from collections.abc import Mapping

from halfsplit.parts.base import Family, Values
from halfsplit.parts.common import HDBK217, peak_volts, wrong_value
from halfsplit.parts.linear_regulator import KILLERS, low, no_output, out_short, params, through, wire
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import regulator


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Regulates its output against ground; unplugged only its body."""
    if s.powered:
        wire(s, pins, v)
    s.resistor(pins["in"], pins["out"], v["through"])
    s.resistor(pins["out"], pins["gnd"], v["across"])


def typed(word: str) -> dict[str, float]:
    """78xx and 79xx say their volts, an L in them 100 mA (generic types, recalled)."""
    found = re.fullmatch(r"(78|79)(l|m)?(\d\d)", word.lower())
    if not found:
        return {}
    sign = 1.0 if found[1] == "78" else -1.0
    return {"volts": sign * float(found[3]), "amps": {"l": 0.1, "m": 0.5}.get(found[2] or "", 1.0)}


FAMILY = Family(
    name="regulator",
    words=("regulator", "78l05", "7805", "7812", "7815", "7905", "7912", "7915", "7808", "7809", "7824"),
    letters=("U", "VR", "IC"),
    pins=("in", "out", "gnd"),
    params=params(5.0, 1.0, 2.0, 5e-3),
    rate=0.25,
    rate_source=HDBK217 + ", linear IC with power, raised",
    ways=(no_output(0.45), through(0.2), out_short(0.15), low(0.2)),
    wrong=wrong_value("volts", 1.15, 3.0, "volts"),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    type_values=typed,
    main_value="volts",
    plus_minus=("out", "gnd"),
    aliases={"io": ("in", "out")},
    ratings=(("in volts", peak_volts("in", "gnd")),),
    killers=KILLERS,
    test="input, output, ground: input 2 V above output at the bottom of the ripple",
    substitute="volts equal, amps not less, dropout not more; pin order differs for negative and LDO types",
    cold_reads=(("in", "gnd", "r"), ("out", "gnd", "r"), ("in", "out", "r")),
    alone_reads=(("out", "gnd", "r"), ("in", "out", "r")),
    symbol=regulator("gnd"),
)
