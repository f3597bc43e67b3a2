"""What the resistor styles share. A style is its ways of failing, its rate, and whether it opens for good when overloaded."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Family, Mode, Param, Values, Way
from halfsplit.parts.common import OPEN, slot, watts_in, wrong_value
from halfsplit.parts.stamper import Stamper
from halfsplit.parts.symbols import RESISTOR, Symbol

# Makers: a fusible one opens within a minute at 16 to 25 times its watts (recalled); nothing is known of a steady state below.
FUSIBLE_TIMES = 12.0


def stamp(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Its ohms, or open once it has blown."""
    s.resistor(pins["a"], pins["b"], np.where(np.asarray(v["blown"]) > 0.5, OPEN, v["ohms"]))


def opens_above(times: float) -> Callable[[Any, Values, Array], Array]:
    """Settling of a resistor that opens for good where its steady power is above so many times its watts."""

    def settle(probe: Any, v: Values, now: Array) -> Array:
        return np.asarray((watts_in(probe, v) > times * np.asarray(v["watts"])) & (now < 0.5), float)

    return settle


def resistor_style(
    name: str,
    words: tuple[str, ...],
    ways: tuple[Way, ...],
    *,
    rate: float,
    rate_source: str,
    substitute: str,
    test: str = "ohms; above the marking in circuit convicts, below says parallel path",
    letters: tuple[str, ...] = (),
    watts: float = 0.25,
    times: float | None = None,
    killers: tuple[str, ...] = ("overload behind it", "volts above its rating"),
    dies_alone: bool | None = None,
    symbol: Symbol = RESISTOR,
) -> Family:
    """A two-legged fixed resistor as a family. times: opens for good above so many times its watts, and is a protector then."""
    return Family(
        name=name,
        words=words,
        letters=letters,
        pins=("a", "b"),
        params=(Param("ohms", "ohm", 10.0, 0.05, 3.0), Param("watts", "W", watts, 0.0), slot("blown")),
        rate=rate,
        rate_source=rate_source,
        ways=ways,
        wrong=wrong_value("ohms", 1.8, 12.0, "ohms"),
        stamp=stamp,
        mode=None if times is None else Mode("blown", 0.0, opens_above(times), latching=True),
        main_value="ohms",
        plus_minus=("a", "b"),
        protector=times is not None,
        killers=killers,
        ratings=(("watts", watts_in),),
        dies_alone=dies_alone,
        test=test,
        substitute=substitute,
        cold_reads=(("a", "b", "r"), ("b", "a", "r")),
        alone_reads=(("a", "b", "r"),),
        symbol=symbol,
    )
