"""Mains transformer, one secondary; further secondaries are further transformers with primaries in parallel."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.parts.base import Family, Param, Values, Way
from halfsplit.parts.common import BENCH, CLEAR, HDBK217, OPEN, SHIFTED, between, put, wrong_value
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import TRANSFORMER

MADE = (
    Param("volts", "V", 230.0, 0.0),
    Param("out", "V", 12.0, 0.04, 1.2),
    Param("rp", "ohm", 100.0, 0.15, 2.0),
    Param("rs", "ohm", 0.5, 0.15, 2.0),
    Param("mag", "H", 5.0, 0.3, 2.0),
    Param("p_open", "ohm", 0.0, 0.0),
)
TURNS = Param("turns", "ohm", CLEAR, 0.0)
PRIMARY_OPEN = Way(
    "primary-open",
    0.6,
    BENCH + ": the thermal link inside",
    put("p_open", OPEN),
    "primary open, often the thermal link inside it",
    {},
    "open",
)
SHORTED_TURNS = Way(
    "shorted-turns",
    0.3,
    SHIFTED,
    lambda v, u: {"turns": v["rp"] * between(0.3, 6.0, u)},
    "shorted turns: hot, low volts",
    {"burnt": 0.5},
    "short",
)


def primary(s: Stamper, pins: Mapping[str, str], v: Values) -> str:
    """rp, then the core (magnetising inductance and shorted turns): the node that secondaries are coupled to, over p2."""
    core = s.inner("core")
    s.resistor(pins["p1"], core, v["rp"] + v["p_open"])
    s.coil(core, pins["p2"], v["mag"], 1e-3)
    s.resistor(core, pins["p2"], v["turns"])
    return core


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """The primary, ideally coupled to the secondary behind rs."""
    core = primary(s, pins, v)
    s.ideal((core, pins["p2"]), (pins["s1"], pins["s2"]), v["out"] / v["volts"], v["rs"] + v["s_open"])


def follows(said: Mapping[str, float]) -> dict[str, float]:
    """What the label (volts and VA) says of the windings: off-load volts, ohms and magnetising henry.

    Drop at full load 0.42 VA^-0.35, at most a quarter, rather more than half of it in the primary: off-load 5 to 25 % above the
    label, primary 1 to 4 kohm at 2 to 6 VA, 100 to 300 at 20, 12 to 30 at 100 (trade page, section 3.1). Henry: bench estimate
    for small frames.
    """
    va, out, volts = said.get("va", 0.0), said.get("out", 0.0), said.get("volts", 230.0)
    if not va or not out:
        return {}
    drop = min(0.25, 0.42 * va**-0.35)
    return {
        "out": out * (1.0 + drop),
        "rp": 0.55 * drop * volts**2 / va,
        "rs": 0.45 * drop * out**2 / va,
        "mag": 550.0 / va * (volts / 230.0) ** 2,
    }


FAMILY = Family(
    name="transformer",
    words=("transformer", "mains-transformer"),
    letters=("T", "TR"),
    pins=("p1", "p2", "s1", "s2"),
    params=(
        *MADE,
        Param("s_open", "ohm", 0.0, 0.0),
        TURNS,
    ),
    rate=0.25,
    rate_source=HDBK217 + ", power transformer",
    ways=(
        PRIMARY_OPEN,
        Way("secondary-open", 0.1, SHIFTED, put("s_open", OPEN), "secondary open", {}, "open"),
        SHORTED_TURNS,
    ),
    wrong=wrong_value("out", 1.2, 2.4, "secondary volts"),
    stamp=stamp,
    shaken=0.3,
    heated=0.1,
    follows=follows,
    sides=(("p1", "p2"), ("s1", "s2")),
    main_value="out",
    plus_minus=("p1", "p2"),
    aliases={"p": ("p1", "p2"), "s": ("s1", "s2")},
    killers=("shorted load", "wrong supply volts"),
    test="ohms of each winding; secondary volts off-load 5 to 25 % above the label",
    substitute="same volts, VA and thermal link, or a donor's",
    cold_reads=(("p1", "p2", "r"), ("s1", "s2", "r")),
    alone_reads=(("p1", "p2", "r"), ("s1", "s2", "r")),
    symbol=TRANSFORMER,
)
