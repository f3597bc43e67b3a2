"""Film resistor, and any whose style nobody wrote. Fails open or drifts up; a reading above its marking convicts."""

from __future__ import annotations

from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, open_way, scaled, slot, watts_in, wrong_value
from halfsplit.parts.resistive import FUSIBLE_TIMES, opens_above, stamp
from halfsplit.parts.symbols import RESISTOR

opens = opens_above(FUSIBLE_TIMES)


def settle(probe: Any, v: Values, now: Array) -> Array:
    """A fusible one opens as a fusible resistor does; others don't open here."""
    return np.asarray(opens(probe, v, now) * (np.asarray(v["fusible"]) > 0.5))


FAMILY = Family(
    name="resistor",
    words=("resistor", "shunt", "bleeder"),
    letters=("R",),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 10e3, 0.05, 3.0), Param("watts", "W", 0.25, 0.0), slot("fusible"), slot("blown")),
    rate=0.1,
    rate_source=HDBK217 + ", film power; high-ohm parts at mains volts fail more, common practice",
    ways=(
        open_way(0.62, HDBK338, "ohms", "open", burnt=0.3),
        Way("up", 0.38, HDBK338, scaled("ohms", 1.4, 6.0), "drifted up", {"burnt": 0.2}),
    ),
    wrong=wrong_value("ohms", 1.8, 12.0, "ohms"),
    stamp=stamp,
    mode=Mode("blown", 0.0, settle, latching=True),
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("overload behind it", "volts above its rating"),
    ratings=(("watts", watts_in),),
    test="ohms; above the marking in circuit convicts, below says parallel path",
    substitute="ohms equal; watts and working volts not less; fusible stays the same type, flameproof stays flameproof",
    cold_reads=(("a", "b", "r"), ("b", "a", "r")),
    alone_reads=(("a", "b", "r"),),
    symbol=RESISTOR,
)
