"""Switch transistor (FET) of a converter, averaged over the switching period."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts import switching_fet
from halfsplit.parts.base import Family, Param, Values
from halfsplit.parts.common import HDBK217, across, slot
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SWITCH_FET


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Averaged power mover from drain-source into the core, body diode, and its faults."""
    drain = switching_fet.drain_of(s, pins, v)
    s.chopper(drain, pins["g"], pins["s"], pins["core"], watts=v["watts"] * v["drive"] * (1.0 if s.powered else 0.0), knee=1.5)
    switching_fet.body(s, pins, drain, v)
    switching_fet.core_leak(s, pins)


FAMILY = Family(
    name="fet",
    words=("fet", "mosfet", "switch-fet"),
    letters=("Q",),
    pins=switching_fet.PINS,
    params=(
        Param("watts", "W", 60.0, 0.1, 1.5),
        slot("drive", 1.0),
        Param("d_open", "ohm", 0.0, 0.0),
        across(),
        across("gate"),
    ),
    rate=0.6,
    rate_source=HDBK217
    + ", silicon FET 0.11, x 5 for hard switching at line volts (common practice: the switch leads with a blown fuse)",
    ways=switching_fet.ways(),
    stamp=stamp,
    switching=("d", "g", "core"),
    shaken=0.1,
    heated=0.25,
    dies_alone=False,
    main_value="watts",
    plus_minus=("d", "s"),
    aliases=switching_fet.ALIASES,
    killers=("clamp open", "sense resistor", "bulk high or weak", "shorted turns", "slow rectifier"),
    test=switching_fet.TEST,
    substitute=switching_fet.SUBSTITUTE,
    cold_reads=switching_fet.READS,
    alone_reads=switching_fet.READS,
    symbol=SWITCH_FET,
)
