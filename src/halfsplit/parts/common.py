"""Small pieces that several families share: severities, stress, the sources of rates and shares."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from halfsplit.parts.base import Array, Param, Values, Way

OPEN = 1e9  # an open leg [ohm]
CLEAR = 2e9  # nothing across but the leakage of a healthy body [ohm]
HDBK338 = "MIL-HDBK-338B (1 Oct 1998) sec. 7.8, failure-mode table, read second-hand"
HDBK217 = "MIL-HDBK-217F (2 Dec 1991) parts count, ground benign x commercial quality, read second-hand"
SHIFTED = HDBK338 + ", shifted to what benches see in old mains-powered sets (common practice)"
BENCH = "bench estimate for old mains-powered sets, common practice"
Change = Callable[[Values, Array], dict[str, Array]]


def between(low: float, high: float, u: Array) -> Array:
    """Log-uniform between two positive values as u goes from 0 to 1."""
    return np.asarray(low * (high / low) ** np.asarray(u, float))


def put(name: str, value: float) -> Change:
    """A way of failing that sets one parameter."""
    return lambda v, u: {name: np.full(np.shape(u), value)}


def spread(name: str, low: float, high: float) -> Change:
    """A way that sets a parameter log-uniformly between two values."""
    return lambda v, u: {name: between(low, high, u)}


def scaled(name: str, low: float, high: float) -> Change:
    """A way that multiplies a parameter log-uniformly."""
    return lambda v, u: {name: np.asarray(v[name]) * between(low, high, u)}


def evenly(name: str, low: float, high: float) -> Change:
    """A way that multiplies a parameter, evenly between two values."""
    return lambda v, u: {name: v[name] * (low + (high - low) * np.asarray(u))}


def across(name: str = "across") -> Param:
    """Reserved slot: a resistance in parallel."""
    return Param(name, "ohm", CLEAR, 0.0)


def slot(name: str, default: float = 0.0) -> Param:
    """Reserved slot for a fault or a mode; has no tolerance."""
    return Param(name, "", default, 0.0)


def pressing(pin: str) -> str:
    """Name of the value that says whether this output is driven by a pressed control; where it is missing, it is not."""
    return f"pressed {pin}"


def watts_in(probe: Any, values: Values, ohms: str = "ohms", a: str = "a", b: str = "b") -> Array:
    """Mean power in a resistance between two pins (batch,) [W]."""
    return np.asarray((probe.volts(a, b) ** 2).mean(1) / values[ohms])


def peak_volts(a: str, b: str) -> Callable[[Any, Values], Array]:
    """Stress: the largest instantaneous volts between two pins."""
    return lambda probe, values: np.abs(probe.volts(a, b)).max(1)


def rms_volts(a: str, b: str) -> Callable[[Any, Values], Array]:
    """Stress: rms volts between two pins."""
    return lambda probe, values: np.sqrt((probe.volts(a, b) ** 2).mean(1))


def open_way(share: float, source: str, name: str, why: str, **looks: float) -> Way:
    """The plain open of a two-legged part whose resistance is `name`."""
    return Way("open", share, source, put(name, OPEN), why, looks, kind="open")


def wrong_value(name: str, least: float, most: float, what: str) -> tuple[Way, Way]:
    """Another value fitted where this one belongs: from `least` to `most` times too little or too much (what: "ohms").

    A decade off is the misread band or the misread code; less is what lay in the drawer (common practice, spread: bench estimate).
    """
    return (
        Way("wrong part, low", 0.5, BENCH, scaled(name, 1.0 / most, 1.0 / least), f"too few {what} fitted", {}, "wrong"),
        Way("wrong part, high", 0.5, BENCH, scaled(name, least, most), f"too many {what} fitted", {}, "wrong"),
    )


def ohms_by_watts(known: Mapping[str, float], mains: float) -> dict[str, float]:
    """Hot ohms and working volts of what is marked in watts; it works on the mains unless volts stand beside them."""
    volts = known.get("volts", mains)
    watts = known.get("watts", 0.0)
    return {"volts": volts, **({"ohms": volts**2 / watts} if watts > 0 else {})}
