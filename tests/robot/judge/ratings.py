"""Parts past their absolute ratings in a powered state: what would burst or burn on the bench."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from .deck import Deck
from .fitted import Fitted
from .modes import between, last_cycle
from .powered import Settled
from .spice import Wave


@dataclass(frozen=True)
class Excess:
    """A part, the rating, what it stands and the limit, SI."""

    ref: str
    rating: str
    stress: float
    limit: float


Stress = Callable[[Deck, Wave, Fitted, float], "tuple[str, float, float] | None"]
# Common practice: a capacitor bursts well above its marking, a resistor smokes at several times its watts.
CAP_MARGIN, WATT_MARGIN, CHIP_MARGIN = 1.15, 5.0, 1.4


def _capacitor(deck: Deck, wave: Wave, part: Fitted, period: float) -> tuple[str, float, float] | None:
    rated = part.ratings.get("volts", part.values.get("volts"))
    pins = list(part.pins)
    across = between(deck, wave, part, pins[0], pins[1])
    if rated is None:
        return None
    # Common practice: film up to 310 V is of the X and Y classes and marked in rms; its peak may be 1.41 times that.
    marked_rms = part.family in ("x-cap", "y-cap") or (part.family == "capacitor" and rated <= 310.0)
    stress = float(np.abs(across).max()) / (float(np.sqrt(2.0)) if marked_rms else 1.0)
    return "volts", stress, CAP_MARGIN * rated


def _resistor(deck: Deck, wave: Wave, part: Fitted, period: float) -> tuple[str, float, float] | None:
    if {"fusible", "cut-off-resistor"} & {part.family, *part.tags} or deck.on(part, "blown"):
        return None
    power = last_cycle(wave, between(deck, wave, part, "a", "b") ** 2 / part.values["ohms"], period)
    return "watts", power, WATT_MARGIN * part.values["watts"]


def _zener(deck: Deck, wave: Wave, part: Fitted, period: float) -> tuple[str, float, float] | None:
    rated = part.ratings.get("watts", part.values.get("watts"))
    if rated is None:
        return None
    back = between(deck, wave, part, "k", "a")
    amps = np.maximum(0.0, back - part.values["volts"]) / part.values["ohms"]
    return "watts", last_cycle(wave, back * amps, period), WATT_MARGIN * rated


def _chip(plus: str, minus: str) -> Stress:
    def stress(deck: Deck, wave: Wave, part: Fitted, period: float) -> tuple[str, float, float] | None:
        volts = last_cycle(wave, between(deck, wave, part, plus, minus), period)
        return "volts", abs(volts), CHIP_MARGIN * part.values["volts"]

    return stress


def _regulator(deck: Deck, wave: Wave, part: Fitted, period: float) -> tuple[str, float, float] | None:
    highest = float(np.abs(between(deck, wave, part, "in", "gnd")).max())
    return "volts in", highest, part.ratings.get("volts_in", 40.0)  # 78xx types: 35-40 V absolute, recalled


STRESSES: Mapping[str, Stress] = {
    "capacitor": _capacitor, "ceramic": _capacitor, "x-cap": _capacitor, "y-cap": _capacitor,
    "electrolytic": _capacitor, "tantalum": _capacitor,
    "resistor": _resistor, "wirewound": _resistor, "composition": _resistor,
    "zener": _zener, "micro": _chip("vdd", "0v"),
    "load": _chip("+", "-"), "power-load": _chip("+", "-"), "relay": _chip("c+", "c-"),
    "changeover": _chip("c+", "c-"), "regulator": _regulator, "ldo": _regulator,
}


def over_rating(state: Settled, hertz: float) -> list[Excess]:
    """Every part past its limit; of a pulsing state the worst stretch counts."""
    worst: dict[str, Excess] = {}
    for piece in state.pieces:
        for part in piece.deck.parts:
            found = STRESSES[part.family](piece.deck, piece.wave, part, 1.0 / hertz) if part.family in STRESSES else None
            if found and found[1] > found[2] and found[1] > worst.get(part.ref, Excess("", "", 0.0, 0.0)).stress:
                worst[part.ref] = Excess(part.ref, *found)
    return list(worst.values())
