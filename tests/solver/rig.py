"""Small circuits for tests: parts as data, values at nominal or with one part failed, solved by the real solver.

Not a test by itself. Nets are plain names; the mains neutral "N" is the reference of every circuit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.diagnosis.suspects import nominal
from halfsplit.parts import FAMILIES, family_of
from halfsplit.solver.cold import ColdAsk, cold_readings
from halfsplit.solver.network import build_network
from halfsplit.solver.powered import Powered, solve_powered

Array = NDArray[np.float64]
Values = dict[str, dict[str, Array]]
IDEAL = {"drop": 0.03, "ideality": 0.06}  # 30 mV at 1 A, 1.6 mV knee, 4 nA backwards: as good as ideal, smooth enough for Newton
KNEE = {"drop": 0.7, "ideality": 0.4}  # the textbooks' 0.7 V diode: 0.68 to 0.72 V from 0.2 to 5 A, nothing under half a volt


def part(ref: str, family: str, nets: str, **values: float) -> Part:
    """A part of a family; nets in the order of the family's pins, separated by spaces."""
    pins = FAMILIES[family].pins
    names = nets.split()
    assert len(names) == len(pins), f"{ref}: {family} has pins {pins}, got {names}"
    return Part(ref, family, dict(zip(pins, names, strict=True)), values)


def circuit(*parts: Part, volts: float = 120.0, hertz: float = 60.0, ohms: float = 0.6) -> Circuit:
    """A set on its outlet: net L is live, N the reference."""
    mains = part("mains", "mains", "L N", volts=volts, hertz=hertz, ohms=ohms)
    return Circuit(Unit("test set", volts, hertz, "II", 20.0), (mains, *parts), {"hot": "N"})


def values_of(c: Circuit, batch: int = 1, **sets: Mapping[str, Sequence[float] | float]) -> Values:
    """Nominal values of all parts, (batch,) each; sets: ref -> parameter -> value(s)."""
    out = {p.ref: {k: np.full(batch, float(x)) for k, x in nominal(p).items()} for p in c.parts}
    for ref, changed in sets.items():
        for name, x in changed.items():
            assert name in out[ref], f"{ref} has no parameter {name}"
            out[ref][name] = np.broadcast_to(np.asarray(x, float), (batch,)).copy()
    return out


def failed(c: Circuit, ref: str, way: str, u: float = 0.5, values: Values | None = None) -> Values:
    """Values (1,) with one part failed in one of its ways."""
    out = values_of(c) if values is None else {r: dict(v) for r, v in values.items()}
    found = next(w for w in family_of(c.part(ref)).ways if w.name == way)
    out[ref].update(found.change(out[ref], np.full(1, u)))
    return out


def run(c: Circuit, values: Values | None = None) -> Powered:
    """Settled powered state; every row must have been resolved."""
    values = values_of(c) if values is None else values
    batch = len(next(iter(values["mains"].values())))
    solved = solve_powered(c, values, batch)
    assert solved.ok.all(), solved.reasons
    return solved


def wave(solved: Powered, red: str, black: str, row: int = 0) -> Array:
    """Waveform between two nets over one cycle (steps,) [V]."""
    return np.asarray(solved.solved.volts(red)[row] - solved.solved.volts(black)[row])


def read(solved: Powered, red: str, black: str, function: str = "v", row: int = 0) -> float:
    """What an unloaded meter shows."""
    return float(solved.reading(red, black, function)[row])


def cold(c: Circuit, red: str, black: str, function: str, values: Values | None = None) -> tuple[float, float]:
    """Ohms or diode reading of the dead set after 3 s and after 15 s."""
    values = values_of(c) if values is None else values
    network = build_network(c, values, 1, powered=False, pairs=[(red, black)])
    shown, bad = cold_readings(network, [ColdAsk(0, red, black, function)])
    assert not bad.any()
    return float(shown[0, 0]), float(shown[0, 1])


def bench_supply(volts: float) -> tuple[Part, ...]:
    """A stiff DC supply (net V+ against N), made of the regulator family with nothing holding it back.

    Its 60 mA of own load put the family's smoothed knee at the nominal volts and keep its 0.05 ohm low."""
    return (
        part("DS", "diode", "L raw"),
        part("CS", "electrolytic", "raw N", farads=0.01, esr=1e-3, volts=400.0),
        part("US", "regulator", "raw V+ N", volts=volts, amps=1e3, dropout=0.1, quiescent=1e-6),
        part("R0", "resistor", "V+ N", ohms=volts / 0.06),
    )
