"""A load that is a plain resistance: dummy load, coil of a solenoid, element on a rail."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import BENCH, across, evenly, open_way, spread, watts_in
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import RESISTIVE_LOAD


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Its ohms, and what is across."""
    s.resistor(pins["+"], pins["-"], v["ohms"])
    s.resistor(pins["+"], pins["-"], v["across"])


def watts(probe: Any, v: Values) -> Array:
    """Stress: mean power in it (batch,) [W]."""
    return watts_in(probe, v, "ohms", "+", "-")


FAMILY = Family(
    name="resistive-load",
    words=("resistive-load", "dummy-load", "solenoid"),
    letters=(),
    pins=("+", "-"),
    params=(Param("ohms", "ohm", 24.0, 0.1, 2.0), across()),
    rate=0.3,
    rate_source=BENCH + ": an untraced load",
    ways=(
        open_way(0.6, BENCH, "ohms", "the load is open"),
        Way("short", 0.2, BENCH, spread("across", 0.05, 5.0), "the load is shorted: unplug it", {"burnt": 0.3}, "short"),
        Way(
            "low",
            0.2,
            BENCH,
            evenly("ohms", 0.3, 0.7),
            "the load draws too much",
            {"burnt": 0.4},
        ),
    ),
    stamp=stamp,
    visible=True,
    main_value="ohms",
    plus_minus=("+", "-"),
    killers=("over-volts", "heat", "blocked armature"),
    ratings=(("watts", watts),),
    test="unplug it; its ohms are V squared over P",
    substitute="volts and watts equal, form",
    cold_reads=(("+", "-", "r"),),
    alone_reads=(("+", "-", "r"),),
    left_out="terminals",
    symbol=RESISTIVE_LOAD,
)
