"""What both bipolar families share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Param, Values, Way
from halfsplit.parts.common import BENCH, HDBK217, HDBK338, across, put, slot, spread
from halfsplit.parts.stamper import VT, Stamper

OUTPUT = "output"  # tag of an output transistor
SPREADER = "spreader"  # tag of the one whose volts across set the idle current of an output stage
SMALL_IS = 1e-14  # saturation current of a small one [A]
MOST = 45.0  # thermal volts across a junction, past which nothing is told apart: 350 A in a small one
SMALL_AMPS = 0.1  # rating of the transistor whose saturation current is 1e-14 A [A] (0.70 V at 6 mA)
PARAMS = (Param("gain", "", 150.0, 0.5, 2.0), Param("size", "", 1.0, 0.0, 1.5), slot("base", 1.0), slot("path", 1.0), across())
RATE = 0.12
RATE_SOURCE = HDBK217 + ", between small signal and power, raised for relay and switch drivers"
TEST = "two junctions 0.55 to 0.7 V alike, C-E OL both ways"
SUBSTITUTE = "volts, amps, watts, SOA not less; gain similar; package and pin order"


def wire(s: Stamper, pins: Mapping[str, str], v: Values, *, pnp: bool) -> None:
    """The transistor and what is across C-E. Size scales every junction of it alike: both currents grow with the area of the chip."""
    base, path = (np.asarray(v[name]) * v["size"] for name in ("base", "path"))
    s.transistor(pins["c"], pins["b"], pins["e"], gain=v["gain"], pnp=pnp, base=base, path=path)
    s.resistor(pins["c"], pins["e"], v["across"])


def rated(known: Mapping[str, float], mains: float) -> dict[str, float]:
    """A larger chip drops less at the same current: saturation current goes with the rated amps (common practice: 0.6 V at 40 mA in a
    15 A output device, 0.7 V at 6 mA in a small one)."""
    amps = known.get("amps", 0.0)
    return {"size": amps / SMALL_AMPS} if amps > SMALL_AMPS else {}


def watts_lost(*, pnp: bool) -> Callable[[Any, Values], Array]:
    """Stress: mean power in the chip (batch,) [W], its current, from the volts of both junctions, times the volts across it."""
    sign = -1.0 if pnp else 1.0

    # never less than any such transistor stands without being noticed: 0.1 W a small one, 3 W one of 15 A (bench estimate)
    def stress(probe: Any, v: Values) -> Array:
        scale = SMALL_IS * np.atleast_1d(np.asarray(v["size"]) * v["path"])[:, None]
        be, bc = (np.minimum(sign * probe.volts("b", pin) / VT, MOST) for pin in ("e", "c"))
        lost = np.abs(probe.volts("c", "e") * scale * (np.exp(be) - np.exp(bc))).mean(1)
        return np.asarray(np.maximum(lost, 0.1 * np.asarray(v["size"]) ** 0.7))

    return stress


# Collector and emitter changed over, as where the pin order of the type fitted is another: gain of one to eight (textbook: reverse gain).
WRONG = (Way("wrong part, turned", 1.0, BENCH, spread("gain", 1.0, 8.0), "collector and emitter changed over", {}, "wrong"),)


def ways() -> tuple[Way, ...]:
    """Ways in which a bipolar transistor fails."""
    return (
        Way("short", 0.73, HDBK338, spread("across", 0.05, 5.0), "C-E shorted", {"burnt": 0.2, "cracked": 0.2}, "short"),
        Way("open", 0.13, HDBK338, put("path", 0.0), "collector open", {}, "open"),
        Way("base-open", 0.14, HDBK338, lambda v, u: {"base": 0.0 * u, "path": 0.0 * u}, "base open", {}, "open"),
    )
