"""Adjustable regulator: holds its 1.25 V between OUT and ADJ; two resistors make of it what the rail needs."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Values
from halfsplit.parts.common import HDBK217, peak_volts
from halfsplit.parts.linear_regulator import KILLERS, low, no_output, params, through, wire
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import regulator

REFERENCE = 1.25  # OUT to ADJ of 317 and 337 types [V] (makers' figure, recalled; trade page, section 3.1)

LOAD_FULL = 0.6  # of its volts, where the element of a load has its full amps
TIMES = 16.0  # 3 mohm behind it: what it loses under load is multiplied by its two resistors (makers: 0.1 to 0.5 %, recalled)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Regulates its output against ADJ, out of which its own small current flows; unplugged only its body.

    The element sees the volts from OUT to ADJ sixteen-fold, so that its own millivolts and milliohms count for so much less.
    """
    if s.powered:
        low, volts = s.inner("low"), np.asarray(v["volts"])
        wire(s, {**pins, "gnd": low}, {**v, "volts": TIMES * volts, "quiescent": np.asarray(0.0)})
        s.ideal((pins["out"], pins["adj"]), (pins["out"], low), TIMES, 1.0)
        full = np.abs(volts) / LOAD_FULL
        s.load(pins["in"], pins["adj"], amps=v["quiescent"] * (volts > 0.0), volts=full)
        s.load(pins["adj"], pins["in"], amps=v["quiescent"] * (volts < 0.0), volts=full)
    s.resistor(pins["in"], pins["out"], v["through"])
    s.resistor(pins["out"], pins["adj"], v["across"])


def typed(word: str) -> dict[str, float]:
    """337 is the negative one, an L in them 100 mA (generic types, recalled)."""
    known = {"317": (REFERENCE, 1.5), "317l": (REFERENCE, 0.1), "337": (-REFERENCE, 1.5), "337l": (-REFERENCE, 0.1)}
    return dict(zip(("volts", "amps"), known[word])) if word in known else {}


FAMILY = Family(
    name="adjustable",
    words=("adjustable", "317", "317l", "337", "337l"),
    letters=(),
    pins=("in", "out", "adj"),
    params=params(REFERENCE, 1.5, 2.0, 50e-6, tol=0.04, broad=1.05),
    rate=0.25,
    rate_source=HDBK217 + ", linear IC with power, raised",
    ways=(no_output(0.5), through(0.3), low(0.2)),
    stamp=stamp,
    shaken=0.1,
    heated=0.3,
    dies_alone=False,
    type_values=typed,
    main_value="volts",
    plus_minus=("out", "adj"),
    aliases={"io": ("in", "out"), "oa": ("out", "adj")},
    ratings=(("in-out volts", peak_volts("in", "out")),),
    killers=(*KILLERS, "capacitor at ADJ without its diode"),
    test="1.25 V from OUT to ADJ whatever its rail; less, with enough input: overload or gone; lower resistor open: rail up",
    substitute="amps and in-out volts not less; positive and negative types have other pin orders",
    cold_reads=(("in", "out", "r"), ("out", "adj", "r")),
    alone_reads=(("in", "out", "r"), ("out", "adj", "r")),
    symbol=regulator("adj"),
)
