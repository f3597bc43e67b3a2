"""Coil."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, open_way
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import INDUCTOR


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Inductance with winding ohms."""
    s.coil(pins["a"], pins["b"], v["henry"], v["ohms"])


FAMILY = Family(
    name="inductor",
    words=("inductor", "coil"),
    letters=("L",),
    pins=("a", "b"),
    params=(Param("henry", "H", 1e-3, 0.2, 3.0), Param("ohms", "ohm", 0.5, 0.2)),
    rate=0.03,
    rate_source=HDBK217,
    ways=(
        open_way(0.6, HDBK338, "ohms", "coil open"),
        Way(
            "shorted-turns",
            0.4,
            HDBK338,
            lambda v, u: {"ohms": v["ohms"] * 0.3, "henry": v["henry"] * np.full(np.shape(u), 0.01)},
            "shorted turns",
            {"burnt": 0.4},
            "short",
        ),
    ),
    stamp=stamp,
    shaken=0.3,
    heated=0.05,
    main_value="henry",
    plus_minus=("a", "b"),
    killers=("overload",),
    test="ohms; ring test against a twin",
    substitute="same part or donor; amps not less, henry equal",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    symbol=INDUCTOR,
)
