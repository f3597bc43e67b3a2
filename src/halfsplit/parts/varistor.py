"""Metal-oxide varistor across the mains."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, across, put, slot, spread
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import VARISTOR

BODY = 200e6  # [ohm] a healthy disc leaks 1 uA at half its 1 mA volts; 10 uA there mean that it ages (maker's page, read second-hand)
CLAMPS = 1.55  # 1 mA volts over the rated AC volts: 430 V of a 275 V disc (makers' data, recalled)


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Clamp both ways at the 1 mA volts of usual discs, its leakage, and what is across it."""
    s.clamp(pins["a"], pins["b"], volts=CLAMPS * v["volts"], scale=v["path"])
    s.resistor(pins["a"], pins["b"], 1.0 / (1.0 / v["across"] + v["path"] / BODY))


FAMILY = Family(
    name="varistor",
    words=("varistor", "mov"),
    letters=("MOV", "VDR"),
    pins=("a", "b"),
    params=(Param("volts", "V", 275.0, 0.08), slot("path", 1.0), across()),
    rate=0.15,
    rate_source=BENCH,
    ways=(
        Way(
            "short",
            0.8,
            BENCH,
            spread("across", 0.5, 20.0),
            "varistor shorted after a surge",
            {"burnt": 0.6, "cracked": 0.5},
            "short",
        ),
        Way("open", 0.2, BENCH, put("path", 0.0), "varistor gone: surges now reach the set", {"cracked": 0.6}, "open"),
    ),
    stamp=stamp,
    shaken=0.05,
    heated=0.05,
    main_value="volts",
    plus_minus=("a", "b"),
    protector=True,
    heard_as_fuse=True,
    limiter=True,
    killers=("surge", "over-voltage line"),
    test="ohms: OL; leakage doesn't show at a meter's volts",
    substitute="same disc diameter and AC rating, behind the fuse; never left out",
    cold_reads=(("a", "b", "r"),),
    alone_reads=(("a", "b", "r"),),
    symbol=VARISTOR,
)
