"""The simulated bench under the names the robot uses: r, d, c, esr, and plain numbers instead of the judge's own types."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bench import Fault
from halfsplit.circuit.model import Circuit
from judge.board import Board, fault_list

FUNCTIONS = {"r": "ohms", "d": "diode", "c": "capacitance", "esr": "esr"}


class JudgedBoard(Board):
    """The judge's board, read by the function letters of the cards."""

    def cold(self, red: str, black: str, function: str) -> Any:
        return super().cold(red, black, FUNCTIONS[function]).value

    def alone(self, ref: str, function: str, red_pin: str, black_pin: str) -> Any:
        return super().alone(ref, FUNCTIONS[function], red_pin, black_pin).value


def make_drawn(
    circuit: Circuit, faults: Sequence[tuple[Fault, float | None]], seed: int, spread: str = "judge"
) -> JudgedBoard:
    """A board with any number of faults, each with its severity in 0..1 (None: drawn with the seed)."""
    if not faults:
        return JudgedBoard(circuit, None, seed, spread)
    (first, severity), *rest = faults
    return JudgedBoard(circuit, first, seed, spread, severity=severity, also=rest)


def make(circuit: Circuit, fault: Fault | None, seed: int) -> JudgedBoard:
    """A board as it comes to the bench."""
    return JudgedBoard(circuit, fault, seed)


def faults(circuit: Circuit) -> Sequence[Fault]:
    """Every fault that the judge can put into this circuit."""
    return fault_list(circuit)
