"""One contact of a connector in a line: plug and socket, terminal, header pin."""

from __future__ import annotations

from halfsplit.parts.base import Family, Param, Way
from halfsplit.parts.common import HDBK217, HDBK338, open_way, spread
from halfsplit.parts.lead import stamp
from halfsplit.parts.symbols import CONNECTOR

FAMILY = Family(
    name="connector",
    words=("connector", "terminal", "header", "socket", "crimp"),
    letters=("CON", "XP", "XS", "PL", "SK"),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 0.01, 0.5),),
    rate=0.1,
    rate_source=HDBK217 + ", multi-pin connector 0.022, raised: one that carries a heater's or motor's current (common practice)",
    ways=(
        open_way(0.73, HDBK338, "ohms", "contact doesn't make: pushed back, bent, crimp off", burnt=0.2),
        Way(
            "resistive",
            0.27,
            HDBK338,
            spread("ohms", 0.5, 50.0),
            "high-resistance contact: volts are lost across it",
            {"burnt": 0.6},
        ),
    ),
    stamp=stamp,
    in_the_run=True,
    shaken=0.7,
    heated=0.1,
    dies_alone=True,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("high-resistance crimp", "pull on the cable", "heat"),
    test="mV across it at load, below 0.2 V; unplugged ohms while it is moved",
    substitute="amps and temperature not less, same make on both halves: replace both",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=CONNECTOR,
)
