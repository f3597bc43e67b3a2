"""Bimetal thermostat or cut-out that resets."""

from __future__ import annotations

from halfsplit.parts.base import Family, Param
from halfsplit.parts.common import HDBK217, open_way
from halfsplit.parts.lead import stamp
from halfsplit.parts.symbols import STAT

FAMILY = Family(
    name="stat",
    words=("stat", "bimetal", "thermostat", "cut-out"),
    letters=("TH",),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 0.01, 0.5), Param("celsius", "C", 195.0, 0.0)),
    rate=0.3,
    rate_source=HDBK217 + ", thermal relay, cut down for its light duty here",
    ways=(open_way(1.0, HDBK217, "ohms", "bimetal contact doesn't close cold"),),
    stamp=stamp,
    shaken=0.2,
    heated=0.6,
    main_value="celsius",
    plus_minus=("a", "b"),
    protector=True,
    heard_as_fuse=True,
    killers=("blocked fan", "welded relay"),
    test="ohms cold: below 1 ohm; opens when heated",
    substitute="same temperature and type; never bridged",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=STAT,
)
