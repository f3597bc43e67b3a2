"""A set that is unplugged and fed by the bench supply: what runs on the fed side, and what an ohmmeter reads on the dead one.

The parts that lie wholly on the fed side work as while on; everything else is unplugged, as for cold ohms. What reaches across (the opto's LED
lights its transistor) is one part in both. Ohms and diode test are read in the steady state, with the meter as a part of the network.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.outlook import Column
from halfsplit.diagnosis.scale import FED
from halfsplit.parts import family_of
from halfsplit.parts.base import Array
from halfsplit.solver.cold import DIODE_LIMIT, DIODE_OHMS, DIODE_VOLTS, OHM_RANGES, OHM_VOLTS
from halfsplit.solver.network import PartValues
from halfsplit.solver.powered import solve_powered

SUPPLY, METER = "bench supply", "meter in ohms"


@dataclass(frozen=True)
class Fed:
    """Where the bench supply is: volts of net against black [V], minus where minus is on the net, and its current limit [A]."""

    net: str
    black: str
    volts: float
    amps: float

    @property
    def key(self) -> str:
        """As it stands in the state of a column."""
        return f"{FED}{self.net} {self.volts:g}V {self.amps:g}A"

    def on(self, circuit: Circuit) -> Circuit:
        """The circuit with the supply on it; only what lies on its side is fed."""
        ends = (self.net, self.black) if self.volts >= 0 else (self.black, self.net)
        values = {"volts": abs(self.volts), "amps": self.amps}
        supply = Part(SUPPLY, "bench-supply", {"+": ends[0], "-": ends[1]}, values)
        islands = islands_of(circuit)
        side = islands.get(self.net)
        here = {p.ref for p in circuit.parts if not family_of(p).outlet and {islands[n] for n in p.pins.values()} == {side}}
        return replace(circuit, parts=(*circuit.parts, supply), fed=frozenset({*here, SUPPLY}))


def read_fed(circuit: Circuit, values: PartValues, batch: int, column: Column) -> Array:
    """What ohms (or the diode test) show between two nets of the dead side (batch,) [ohm or V]; inf = OL, NaN where not solved."""
    meter = Part(METER, "battery", {"+": column.red, "-": column.black}, {"volts": OHM_VOLTS, "ohms": 1.0})
    wider = replace(circuit, parts=(*circuit.parts, meter), fed=(circuit.fed or frozenset()) | {METER})
    out = np.full(batch, np.nan)
    left = np.arange(batch)
    diode = column.function == "d"
    for behind in (DIODE_OHMS,) if diode else OHM_RANGES:
        here = {ref: {k: _some(x, left, batch) for k, x in v.items()} for ref, v in values.items()}
        volts = DIODE_VOLTS if diode else OHM_VOLTS
        plain = {p.name: np.full(len(left), p.default) for p in family_of(meter).params}
        here[METER] = {**plain, "volts": np.full(len(left), volts), "ohms": np.full(len(left), float(behind))}
        solved = solve_powered(wider, here, len(left), switched_on=True)
        shown = solved.reading(column.red, column.black, "v")
        if diode:
            return np.asarray(np.where(shown > DIODE_LIMIT, np.inf, shown))
        with np.errstate(divide="ignore", invalid="ignore"):
            ohms = np.where(shown < OHM_VOLTS, behind * shown / (OHM_VOLTS - shown), np.inf)
        fits = (ohms <= behind) | np.isnan(shown)
        out[left] = np.where(fits, np.maximum(ohms, 0.0), np.inf)
        left = left[~fits]
        if not len(left):
            break
    return out


def _some(x: Array, rows: NDArray[np.int64], batch: int) -> Array:
    x = np.asarray(x, float)
    return x[rows] if x.shape == (batch,) else np.full(len(rows), float(x))


def ohms_read(columns: Sequence[Column]) -> bool:
    """Whether these are read in ohms or on the diode test."""
    return all(c.function in ("r", "d") for c in columns)
