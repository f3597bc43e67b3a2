"""Mains switch or other mechanical contact that is closed while the set is used."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, open_way, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SWITCH


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """The closed contact."""
    s.resistor(pins["a"], pins["b"], v["ohms"])


FAMILY = Family(
    name="switch",
    words=("switch", "contact", "door-switch"),
    letters=("SW", "S"),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 0.02, 0.5),),
    rate=0.3,
    rate_source=HDBK217 + ", sensitive and toggle switches taken together",
    ways=(
        open_way(0.75, HDBK338, "ohms", "contact doesn't close"),
        Way("resistive", 0.25, HDBK338, spread("ohms", 2.0, 200.0), "burnt contact: volts are lost across it", {"burnt": 0.3}),
    ),
    stamp=stamp,
    shaken=0.6,
    heated=0.05,
    dies_alone=True,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("inrush", "load surge"),
    test="unplugged, ohms across it in both positions; in use less than 0.2 V across it at load",
    substitute="same poles and throw, amps and volts not less, load type (motor, lamp) the same",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=SWITCH,
)
