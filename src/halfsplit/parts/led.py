"""Light-emitting diode, one chip or several in series in one body or string."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Param, Values, Way
from halfsplit.parts.common import HDBK217, HDBK338, put, slot, spread
from halfsplit.parts.stamper import VT, Stamper
from halfsplit.parts.symbols import LED

RED, WHITE = 1.9, 3.1  # usual drops at rated amps: red, yellow and plain green; white and blue [V] (common practice)
SERIES = 0.1  # of a chip's drop lies in its own resistance [V] (common practice)
IDEALITY = 2.0
DARK = 5e10  # across a healthy body [ohm]: an open one in a dark string passes no more than a nanoamp or two, and its neighbours read 0.0 V


def junction(v: Values) -> tuple[Array, Array, Array]:
    """(saturation current [A], ideality of all chips together, series resistance [ohm])."""
    high = (np.asarray(v["white"]) + np.asarray(v["blue"])) > 0.5
    usual = np.where(high, WHITE, RED)
    drop = np.where(np.asarray(v["drop"]) > 0.0, v["drop"], usual) * np.asarray(v["drop_factor"])
    chips = np.maximum(1.0, np.round(drop / WHITE))
    n = IDEALITY * chips
    return np.asarray(v["amps"] / np.expm1((drop - SERIES * chips) / (n * VT))), n, np.asarray(SERIES * chips / v["amps"])


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Exponential junction with its series resistance; several chips where the volts say so."""
    inner = s.inner("j")
    isat, n, ohms = junction(v)
    s.resistor(pins["a"], inner, ohms)
    s.junction(inner, pins["k"], isat=v["path"] * isat, ideality=n)
    s.resistor(pins["a"], pins["k"], v["across"])


def amps(probe: Any, v: Values) -> Array:
    """Stress: mean amps forwards, from its volts by junction and series resistance together (batch,) [A]."""
    isat, n, ohms = (np.asarray(x)[..., None] for x in junction(v))
    volts = np.maximum(probe.volts("a", "k"), 0.0)
    low, high = np.zeros(volts.shape), volts / ohms
    for _ in range(40):  # the amps at which junction and resistance share the volts
        mid = 0.5 * (low + high)
        over = n * VT * np.log1p(mid / isat) + ohms * mid > volts
        low, high = np.where(over, low, mid), np.where(over, mid, high)
    return np.asarray((0.5 * (low + high)).mean(1) * np.asarray(v["path"]))


FAMILY = Family(
    name="led",
    words=("led", "leds", "led-string"),
    letters=("LED",),
    pins=("a", "k"),
    params=(
        Param("drop", "V", 0.0, 0.0),
        Param("amps", "A", 0.02, 0.0),
        Param("drop_factor", "", 1.0, 0.05, 1.3),
        slot("white"),
        slot("blue"),
        slot("path", 1.0),
        Param("across", "ohm", DARK, 0.0),
    ),
    rate=0.05,
    rate_source=HDBK217 + ", LED 0.0038, raised: a power LED that runs hot (common practice)",
    ways=(
        Way(
            "open",
            0.7,
            HDBK338,
            put("path", 0.0),
            "open: a string is dark and its driver's volts stand across this one",
            {"burnt": 0.4},
            "open",
        ),
        Way(
            "short",
            0.3,
            HDBK338,
            spread("across", 0.5, 20.0),
            "shorted: dark, the others of the string still light",
            {"burnt": 0.2},
            "short",
        ),
    ),
    stamp=stamp,
    in_the_run=True,
    lights=True,
    shaken=0.2,
    heated=0.2,
    dies_alone=True,
    main_value="drop",
    plus_minus=("a", "k"),
    aliases={"ka": ("k", "a"), "ak": ("a", "k")},
    ratings=(("amps", amps),),
    killers=("heat", "over-current of the driver", "bonding to the plate"),
    test="diode test: 1.6 to 2.2 V and a glimmer for red, yellow, green; white and blue may exceed the meter, use an LED tester",
    substitute="colour and drop equal within 0.1 V in a string, amps not less, bonded to the plate as it was",
    cold_reads=(("a", "k", "d"), ("k", "a", "r")),
    alone_reads=(("a", "k", "d"), ("k", "a", "r")),
    symbol=LED,
)
