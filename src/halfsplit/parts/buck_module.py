"""Step-down module or chip with its coil: one lump that makes a lower rail from a higher one, averaged over its switching period."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, CLEAR, HDBK217, across, peak_volts, put, slot, spread, wrong_value
from halfsplit.parts.linear_regulator import low, out_short
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import regulator


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Regulates out, draws the power of that at in; its feedback divider always; unplugged that and its body."""
    if s.powered:
        port, out = (pins["in"], pins["gnd"]), (pins["out"], pins["gnd"])
        amps = np.maximum(v["amps"] * v["path"], 1e-9)
        s.converter(port, out, volts=v["volts"] * v["low"], drop=v["dropout"], amps=amps, efficiency=v["efficiency"])
        s.load(*port, amps=v["quiescent"] * v["path"] + 1e-9, volts=v["volts"])
    s.resistor(pins["in"], pins["gnd"], v["shorted"])
    s.resistor(pins["in"], pins["out"], v["through"])
    s.resistor(pins["out"], pins["gnd"], v["divider"])
    s.resistor(pins["out"], pins["gnd"], v["across"])


FAMILY = Family(
    name="buck-module",
    words=("buck-module", "step-down", "buck-converter"),
    letters=(),
    pins=("in", "out", "gnd"),
    params=(
        Param("volts", "V", 5.0, 0.02, 1.5),
        Param("amps", "A", 1.0, 0.1),
        Param("dropout", "V", 1.0, 0.15),
        Param("efficiency", "", 0.88, 0.05),
        Param("quiescent", "A", 5e-3, 0.3),
        Param("divider", "ohm", 10e3, 0.5, 4.0),
        slot("low", 1.0),
        slot("path", 1.0),
        Param("through", "ohm", CLEAR, 0.0),
        Param("shorted", "ohm", CLEAR, 0.0),
        across(),
    ),
    rate=0.4,
    rate_source=HDBK217 + ", linear IC with power, raised: it switches and carries its coil",
    ways=(
        Way("no-output", 0.4, BENCH, put("path", 0.0), "input there, no output", {"cracked": 0.1}, "open"),
        Way("in-short", 0.15, BENCH, spread("shorted", 0.1, 5.0), "input shorted inside", {"cracked": 0.3}, "short"),
        Way(
            "through",
            0.15,
            BENCH,
            spread("through", 0.05, 2.0),
            "its switch has shorted: input straight through to the output, everything behind it at risk",
            {"cracked": 0.3},
            "short",
        ),
        out_short(0.15),
        low(0.15),
    ),
    wrong=wrong_value("volts", 1.15, 3.0, "volts"),
    stamp=stamp,
    shaken=0.15,
    heated=0.2,
    main_value="volts",
    plus_minus=("out", "gnd"),
    aliases={"io": ("in", "out")},
    ratings=(("in volts", peak_volts("in", "gnd")),),
    killers=("load short", "input too high", "reverse volts", "surge"),
    test="input and output volts at load; low and cool is no drive, low and hot is a short behind it: cold ohms of its rail",
    substitute="output volts equal, amps not less, input volts not less; enable pin as it was",
    cold_reads=(("in", "gnd", "r"), ("out", "gnd", "r"), ("in", "out", "r")),
    alone_reads=(("in", "gnd", "r"), ("out", "gnd", "r"), ("in", "out", "r")),
    symbol=regulator("gnd"),
)
