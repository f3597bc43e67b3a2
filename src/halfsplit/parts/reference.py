"""431-type shunt reference."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, across, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import REFERENCE

NEVER = 1e4  # [V]
AWAKE = 1.9  # [V] at its cathode from which it draws that
LOW_TYPE = 1.24  # [V] the other type there is (makers' data, recalled)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Sinks cathode current when the reference pin is above its volts; 2 uA into the reference pin."""
    # an open one is one that wants more volts than there are: at no gain at all the rounded corner of the element would leak 0.7 mA
    volts = np.where(np.asarray(v["path"]) > 0.5, v["volts"], NEVER)
    s.shunt(pins["k"], pins["a"], pins["r"], volts=volts, scale=1.0)
    if s.powered:  # what it lives on, which it draws before it conducts (common practice: 0.3 mA; a resistor across the LED is there to pass it by)
        s.load(pins["k"], pins["a"], amps=v["idle"] * v["path"] + 1e-12, volts=AWAKE / 0.6)
    s.resistor(pins["r"], pins["a"], 1.25e6)
    s.resistor(pins["k"], pins["a"], v["across"])


def _other_type(v: Values, u: Array) -> dict[str, Array]:
    """The 1.24 V type for the 2.5 V one, or the reverse."""
    return {"volts": np.where(np.asarray(v["volts"]) > 1.9, LOW_TYPE, 2.495) + 0.0 * u}


FAMILY = Family(
    name="reference",
    words=("reference", "431", "shunt-reference"),
    letters=(),
    pins=("k", "a", "r"),
    # named, but not by its volts, it is the 2.5 V type
    params=(Param("volts", "V", 2.495, 0.01, 1.02), Param("idle", "A", 0.3e-3, 0.3), slot("path", 1.0), across()),
    rate=0.1,
    rate_source=HDBK217 + ", small linear IC",
    ways=(
        Way("short", 0.5, BENCH, spread("across", 1.0, 30.0), "cathode shorted to anode", {}, "short"),
        Way("open", 0.5, BENCH, put("path", 0.0), "never conducts", {}, "open"),
    ),
    wrong=(Way("wrong part", 1.0, BENCH, _other_type, "the type of the other volts fitted", {}, "wrong"),),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    main_value="volts",
    plus_minus=("k", "a"),
    aliases={"ka": ("k", "a"), "ra": ("r", "a")},
    limiter=True,
    killers=("over-volts",),
    test="inject bench DC into the output: cathode drops to 2 V as the reference pin passes 2.5",
    substitute="2.5 V or 1.24 V type as original; pin order mirrors",
    cold_reads=(("k", "a", "r"),),
    alone_reads=(("k", "a", "r"),),
    symbol=REFERENCE,
)
