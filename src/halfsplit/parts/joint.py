"""One solder joint or piece of track, written between two nets where somebody suspects it. No sheet has it by itself."""

from __future__ import annotations

from halfsplit.parts.base import Family, Param, Way
from halfsplit.parts.common import HDBK217, HDBK338, open_way, spread
from halfsplit.parts.lead import stamp
from halfsplit.parts.symbols import JOINT

FAMILY = Family(
    name="joint",
    words=("joint", "dry-joint", "solder-joint", "track", "via"),
    letters=("JT",),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 0.005, 0.5),),
    rate=0.05,
    rate_source=HDBK217
    + ", hand-soldered joint 0.0026, raised twenty-fold: one that is written is at a heavy or hot part (common "
    "practice)",
    ways=(
        open_way(0.73, HDBK338, "ohms", "ring crack or cracked track: open, perhaps only cold or only warm", cracked=0.5),
        Way(
            "resistive",
            0.27,
            HDBK338,
            spread("ohms", 0.5, 200.0),
            "dry joint: some ohms where there should be none",
            {"cracked": 0.4},
        ),
    ),
    stamp=stamp,
    in_the_run=True,
    shaken=0.8,
    heated=0.3,
    dies_alone=True,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("heat cycles", "a heavy part that moves", "pull on the cable", "damp"),
    test="look with side light, press with an insulated rod; ohms from lead to track, not from solder to solder",
    substitute="solder drawn off and made anew; a burnt track bridged with wire of its own cross-section, its fuse left in",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=JOINT,
)
