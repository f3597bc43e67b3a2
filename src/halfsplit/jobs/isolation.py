"""Whether the claimed cold side counts as isolated: named by eye, read, and joined to the mains in no likely explanation."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit
from halfsplit.jobs.safety import COLD_OHMS, Go, NoGo, boundary_parts, prove_cold
from halfsplit.jobs.standing import Standing
from halfsplit.jobs.table import Table
from halfsplit.parts.base import Array


def cold_nets(circuit: Circuit) -> frozenset[str]:
    """Every net that the sheet claims isolated, or that hangs on such a net only."""
    return frozenset(net for net, side in islands_of(circuit).items() if side == "cold")


def claims_cold(circuit: Circuit) -> bool:
    """Whether the sheet claims an isolated side and says which net is its 0 V."""
    return bool(circuit.grounds.get("cold")) and bool(circuit.cold_claims)


def spanning(circuit: Circuit) -> tuple[str, ...]:
    """Refs of the parts that reach across the gap."""
    return boundary_parts(circuit, cold_nets(circuit))


def ohms_read(standing: Standing, circuit: Circuit) -> dict[str, float]:
    """Lowest ohms read from L and from N to the claimed cold 0 V, the set off [ohm]."""
    cold = circuit.grounds.get("cold")
    out: dict[str, float] = {}
    for taken in standing.readings:
        e = taken.entry
        ends = {e.red_net, e.black_net}
        if taken.power != "on" and e.function == "r" and cold in ends and e.value is not None:
            for line in {"L", "N"} & ends:
                out[str(line)] = min(e.value, out.get(str(line), np.inf))
    return out


def breach_rows(table: Table) -> NDArray[np.bool_]:
    """Explanations in which the sides are joined (rows,): solved below 1 Mohm across the gap at some severity, or not solved."""
    block = table.across_gap()
    if not block.columns:
        return np.ones(len(table.suspects), bool)
    return np.asarray((~(block.value > COLD_OHMS)).any(axis=(1, 2)))


def isolation(standing: Standing, table: Table, odds: Array) -> Go | NoGo:
    """safety.prove_cold with the facts of this job. odds (rows,)."""
    circuit = table.circuit
    if not claims_cold(circuit):
        return NoGo("the sheet claims no isolated side", "every net hangs on the mains")
    expected = [circuit.part(ref).place or ref for ref in spanning(circuit)]
    read = ohms_read(standing, circuit)

    def told(breach: float) -> Go | NoGo:
        return prove_cold(expected, standing.named, ohms_l=read.get("L"), ohms_n=read.get("N"), breach_odds=breach)

    answer = told(0.0)  # the cheap half first: the gap is solved only when everything else is there
    return told(float(odds[breach_rows(table)].sum())) if answer else answer
