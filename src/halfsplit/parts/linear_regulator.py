"""What all linear regulators share: fixed, low-drop and adjustable ones differ in numbers and in what they regulate against."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.parts.base import Array, Param, Values, Way
from halfsplit.parts.common import BENCH, CLEAR, SHIFTED, across, put, slot, spread
from halfsplit.parts.stamper import Stamper

KILLERS = ("load short", "input too high", "reverse volts")


def wire(s: Stamper, pins: Mapping[str, str], v: Values) -> None:
    """Regulated current from in to out, quiescent current to gnd."""
    s.regulator(
        pins["in"],
        pins["out"],
        pins["gnd"],
        volts=v["volts"] * v["low"],
        drop=v["dropout"],
        amps=np.maximum(v["amps"] * v["path"], 1e-9),
        quiescent=v["quiescent"],
    )


def params(
    volts: float, amps: float, dropout: float, quiescent: float, *, tol: float = 0.03, broad: float = 1.5
) -> tuple[Param, ...]:
    """volts: regulated [V]. amps: rated [A]. dropout: least from in to out [V]. quiescent: own current [A]."""
    return (
        Param("volts", "V", volts, tol, broad),
        Param("amps", "A", amps, 0.1),
        Param("dropout", "V", dropout, 0.15),
        Param("quiescent", "A", quiescent, 0.3),
        slot("low", 1.0),
        slot("path", 1.0),
        Param("through", "ohm", CLEAR, 0.0),
        across(),
    )


def _low(v: Values, u: Array) -> dict[str, Array]:
    return {"low": 0.4 + 0.45 * np.asarray(u)}


def no_output(share: float) -> Way:
    """Input there, no output."""
    return Way("no-output", share, SHIFTED, put("path", 0.0), "input there, no output", {}, "open")


def through(share: float) -> Way:
    """Shorted from input to output."""
    why = "input straight through to the output: everything behind it at risk"
    return Way("through", share, BENCH, spread("through", 0.1, 3.0), why, {}, "short")


def out_short(share: float) -> Way:
    """Shorted from output to ground inside."""
    return Way("out-short", share, BENCH, spread("across", 0.2, 10.0), "output shorted inside", {"cracked": 0.3}, "short")


def low(share: float) -> Way:
    """Its reference has fallen."""
    return Way("low", share, SHIFTED, _low, "output low", {})
