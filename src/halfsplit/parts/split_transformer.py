"""Mains transformer with two equal secondaries in series, their joint led out: the supply of plus and minus rails."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts import transformer
from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, OPEN, SHIFTED, put, wrong_value
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import SPLIT_TRANSFORMER


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """The primary of a single one; each half ideally coupled to it behind rs."""
    core = transformer.primary(s, pins, v)
    ratio = v["out"] / v["volts"]
    s.ideal((core, pins["p2"]), (pins["s1"], pins["ct"]), ratio, v["rs"] + v["a_open"])
    s.ideal((core, pins["p2"]), (pins["ct"], pins["s2"]), ratio, v["rs"] + v["b_open"])


def follows(said: Mapping[str, float]) -> dict[str, float]:
    """As a single one: the label names the volts of one half, which carries half of the VA."""
    whole = transformer.follows(said)
    return {**whole, "rs": 2.0 * whole["rs"]} if whole else {}


FAMILY = Family(
    name="split-transformer",
    words=("split-transformer", "centre-tapped", "center-tapped"),
    letters=(),
    pins=("p1", "p2", "s1", "ct", "s2"),
    params=(
        *transformer.MADE,
        Param("a_open", "ohm", 0.0, 0.0),
        Param("b_open", "ohm", 0.0, 0.0),
        transformer.TURNS,
    ),
    rate=0.25,
    rate_source=HDBK217 + ", power transformer",
    ways=(
        transformer.PRIMARY_OPEN,
        Way("upper-open", 0.05, SHIFTED, put("a_open", OPEN), "secondary half s1 to ct open", {}, "open"),
        Way("lower-open", 0.05, SHIFTED, put("b_open", OPEN), "secondary half ct to s2 open", {}, "open"),
        transformer.SHORTED_TURNS,
    ),
    wrong=wrong_value("out", 1.2, 2.4, "secondary volts"),
    stamp=stamp,
    shaken=0.3,
    heated=0.1,
    follows=follows,
    sides=(("p1", "p2"), ("s1", "ct", "s2")),
    main_value="out",
    plus_minus=("p1", "p2"),
    aliases={"p": ("p1", "p2"), "s": ("s1", "s2")},
    killers=transformer.FAMILY.killers,
    test="ohms of each winding; both halves alike; secondary volts off-load 5 to 25 % above the label",
    substitute=transformer.FAMILY.substitute,
    cold_reads=(("p1", "p2", "r"), ("s1", "ct", "r"), ("ct", "s2", "r")),
    alone_reads=(("p1", "p2", "r"), ("s1", "ct", "r"), ("ct", "s2", "r")),
    symbol=SPLIT_TRANSFORMER,
)
