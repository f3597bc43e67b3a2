"""Battery or cell in the set: clock cell, back-up pack, pack on a charger. It comes out before any ohms are read."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import BENCH, CLEAR, HDBK338, OPEN, between, put, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import BATTERY

SAG = 0.02  # of its volts lost at one ampere by a good one (bench estimate; small cells more)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Its volts behind its resistance; unplugged it has been taken out, for no ohmmeter reads past a live cell."""
    if s.powered:
        ohms = np.where(np.asarray(v["ohms"]) > 0, v["ohms"], SAG * np.abs(np.asarray(v["volts"]))) * v["worn"]
        s.source(pins["+"], pins["-"], dc=v["volts"] * v["charge"], ohms=ohms + v["leg"])
    else:
        s.resistor(pins["+"], pins["-"], CLEAR)


def _weak(v: Values, u: Array) -> dict[str, Array]:
    """The weaker, the fewer volts off load and the more resistance."""
    return {"charge": between(0.95, 0.5, u), "worn": between(4.0, 40.0, u)}


def _cells(v: Values, u: Array) -> dict[str, Array]:
    """Cells shorted: a sixth to a half of the volts is gone, the rest are as good as before."""
    return {"charge": 0.83 - 0.33 * np.asarray(u)}


FAMILY = Family(
    name="battery",
    words=("battery", "cell", "pack", "lead-acid", "nimh", "nicd", "alkaline", "lithium"),
    letters=("B", "BT", "BAT", "BATT"),
    pins=("+", "-"),
    params=(
        Param("volts", "V", 12.0, 0.05, 1.2),
        Param("ohms", "ohm", 0.0, 0.0),
        Param("leg", "ohm", 0.0, 0.0),
        slot("charge", 1.0),
        slot("worn", 1.0),
    ),
    rate=2.0,
    rate_source=BENCH + ": batteries wear out before anything else does",
    ways=(
        Way("weak", 0.7, HDBK338, _weak, "worn out: volts fall away under load", {"leaked": 0.2, "domed": 0.1}),
        Way("cells-short", 0.2, HDBK338, _cells, "cells shorted: low by a cell or more", {"domed": 0.2, "leaked": 0.1}),
        Way("open", 0.1, HDBK338, put("leg", OPEN), "open: a link or a terminal inside has let go", {"leaked": 0.3}, "open"),
    ),
    stamp=stamp,
    shaken=0.3,
    heated=0.1,
    dies_alone=True,
    main_value="volts",
    plus_minus=("+", "-"),
    killers=("age", "deep discharge", "over-charge", "heat"),
    test="volts after an hour's rest and again under its load; taken out before any ohms are read on the board",
    substitute="chemistry and volts equal, capacity not less, same connector and thermistor; swollen or under 2.5 V a cell: "
    "recycle, never charge",
    symbol=BATTERY,
)
