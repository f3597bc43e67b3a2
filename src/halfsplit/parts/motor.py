"""Motor winding."""

from __future__ import annotations

from halfsplit.parts.base import Family, Param, Way
from halfsplit.parts.common import BENCH, open_way, scaled
from halfsplit.parts.inductor import stamp
from halfsplit.parts.symbols import MOTOR

FAMILY = Family(
    name="motor",
    words=("motor", "fan", "pump"),
    letters=("M",),
    pins=("a", "b"),
    params=(Param("ohms", "ohm", 40.0, 0.1, 2.0), Param("henry", "H", 0.1, 0.4, 3.0)),
    rate=0.3,
    rate_source=BENCH,
    ways=(
        open_way(0.85, BENCH, "ohms", "winding or brush open"),
        Way("low", 0.15, BENCH, scaled("ohms", 0.3, 0.85), "turns or commutator bars bridged: brush dust, tracking", {"burnt": 0.2}, "short"),
    ),
    stamp=stamp,
    shaken=0.3,
    heated=0.2,
    dies_alone=True,
    visible=True,
    main_value="ohms",
    plus_minus=("a", "b"),
    killers=("bearing", "dust"),
    test="ohms, equal at every rotor position",
    substitute="same motor",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    across_live=("a", "b"),
    symbol=MOTOR,
)
