"""What the FETs of all switching stages share: the leg of the drain, the body diode, how they fail and how a bench tests them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from halfsplit.parts.base import Array, Values, Way
from halfsplit.parts.common import BENCH, CLEAR, OPEN, SHIFTED, put, spread
from halfsplit.parts.diode import saturation
from halfsplit.parts.stamper import Stamper

LEG = 1e-3  # of the drain, for its open to stand in; too small to be read [ohm]
DRIVEN = 0.3  # mean volts of the gate above which the stage drives it [V]
PINS = ("d", "g", "s", "core")
ALIASES = {"ds": ("d", "s"), "gs": ("g", "s"), "sd": ("s", "d"), "dg": ("d", "g")}
TEST = "D-S 0.4 to 0.6 V one way and OL the other, gate OL to both"
SUBSTITUTE = "volts, amps, watts not less; gate charge not above 1.3 times"
READS = (("d", "s", "r"), ("s", "d", "d"), ("g", "s", "r"))


def drain_of(s: Stamper, pins: Mapping[str, str], v: Values) -> str:
    """The drain inside, behind its leg."""
    drain = s.inner("d")
    s.resistor(pins["d"], drain, LEG + v["d_open"])
    return drain


def body(s: Stamper, pins: Mapping[str, str], drain: str, v: Values, crowbar: Array | None = None) -> None:
    """Body diode, what is across D-S and G-S, and, while on, the ohms (batch,) that it puts across its supply where it can shoot through."""
    s.junction(pins["s"], drain, isat=saturation(np.asarray(0.85), np.asarray(1.7)), ideality=1.7)
    s.resistor(drain, pins["s"], v["across"])
    if s.powered and crowbar is not None:
        s.resistor(drain, pins["s"], crowbar)
    s.resistor(pins["g"], pins["s"], 1.0 / (1.0 / v["gate"] + (1e-7 if s.powered else 0.0)))


def core_leak(s: Stamper, pins: Mapping[str, str]) -> None:
    """The core is no net of the board: whatever it leaks must not join the two sides of a fault."""
    s.resistor(pins["core"], "N", 1e6)


def driven(probe: Any) -> NDArray[np.bool_]:
    """Where (batch,) its gate is driven."""
    return np.asarray(probe.volts("g", "s").mean(1) > DRIVEN)


def round_it(probe: Any) -> Array:
    """What else (batch,) its drain and source see between them, without the transistor [ohm]."""
    return np.asarray(probe.looking_out("d", "s", {"across": CLEAR}))


def ways(short: float = 0.75, open_: float = 0.15, least: float = 0.05) -> tuple[Way, ...]:
    """Ways in which it fails, with the shares of the first and the last, and the least ohms of a short."""
    return (
        Way("short", short, SHIFTED, spread("across", least, 2.0), "D-S shorted", {"cracked": 0.4, "burnt": 0.3}, "short"),
        Way("gate-short", 0.1, BENCH, spread("gate", 1.0, 500.0), "gate leaks to source", {}, "short"),
        Way("open", open_, SHIFTED, put("d_open", OPEN), "drain open", {"cracked": 0.3}, "open"),
    )
