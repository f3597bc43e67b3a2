"""One-shot thermal link."""

from __future__ import annotations

from halfsplit.parts.base import Family, Param
from halfsplit.parts.common import BENCH, open_way
from halfsplit.parts.lead import stamp
from halfsplit.parts.symbols import THERMAL_LINK

FAMILY = Family(
    name="thermal-link",
    words=("thermal-link", "link", "one-shot"),
    letters=("TL",),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 0.005, 0.5), Param("celsius", "C", 192.0, 0.0)),
    rate=0.5,
    rate_source=BENCH,
    ways=(open_way(1.0, BENCH, "ohms", "thermal link gone: something got too hot"),),
    stamp=stamp,
    shaken=0.1,
    heated=0.1,
    dies_alone=False,
    main_value="celsius",
    plus_minus=("a", "b"),
    protector=True,
    heard_as_fuse=True,
    killers=("welded relay", "shorted triac", "blocked fan", "slipped sensor"),
    test="ohms: 0 or OL",
    substitute="same Tf, type and place; amps and volts not less; crimped; never bridged",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=THERMAL_LINK,
)
