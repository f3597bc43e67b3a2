"""Heating element."""

from __future__ import annotations

from halfsplit.parts.base import Family, Param, Way
from halfsplit.parts.common import BENCH, ohms_by_watts, open_way, scaled, wrong_value
from halfsplit.parts.lead import stamp
from halfsplit.parts.symbols import HEATER

FAMILY = Family(
    name="heater",
    words=("heater", "element", "foil"),
    letters=("H", "HTR"),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 100.0, 0.08, 1.5),),
    rate=0.5,
    rate_source=BENCH,
    ways=(
        open_way(0.85, BENCH, "ohms", "element open", burnt=0.3),
        Way(
            "low",
            0.15,
            BENCH,
            scaled("ohms", 0.15, 0.7),
            "turns shorted",
            {"burnt": 0.4},
            "short",
        ),
    ),
    wrong=wrong_value("ohms", 1.3, 4.0, "ohms"),
    stamp=stamp,
    shaken=0.25,
    heated=0.2,
    visible=True,
    rated_values=ohms_by_watts,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("age", "stuck contact"),
    test="ohms = V squared over P within 10 %",
    substitute="same watts, volts and form",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=HEATER,
)
