"""From a circuit and a batch of part values to the arrays that the kernel solves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit
from halfsplit.parts import family_of
from halfsplit.parts.stamper import OPTO, Element, Stamper
from halfsplit.solver.tape import Tape, make_tape

Array = NDArray[np.float64]
PartValues = Mapping[str, Mapping[str, Array]]
REFERENCE = "N"


@dataclass(frozen=True)
class Network:
    """One circuit with the part values of a whole batch, ready to solve.

    nets: net name -> place in the elimination order, -1 for the reference. Arrays have the batch axis first.
    """

    batch: int
    hertz: float
    nets: Mapping[str, int]
    tape: Tape
    lin: tuple[NDArray[np.int64], Array, Array]
    caps: tuple[NDArray[np.int64], Array, Array]
    coils: tuple[NDArray[np.int64], Array, Array]
    sources: tuple[NDArray[np.int64], Array, Array, Array]
    devices: tuple[NDArray[np.int64], NDArray[np.int64], Array]

    @cached_property
    def size(self) -> int:
        return int(self.tape.pos.shape[0])

    def take(self, rows: NDArray[np.int64]) -> Network:
        """The network of some rows of the batch."""
        n, w, g = self.lin
        cn, c, r = self.caps
        ln, lh, lr = self.coils
        sn, dc, pk, sg = self.sources
        dk, dn, dp = self.devices
        return Network(
            len(rows),
            self.hertz,
            self.nets,
            self.tape,
            (n, w[rows], g[rows]),
            (cn, c[rows], r[rows]),
            (ln, lh[rows], lr[rows]),
            (sn, dc[rows], pk[rows], sg[rows]),
            (dk, dn, dp[rows]),
        )


INSULATION = 200e6  # an isolated side still leaks this much to the mains side [ohm]; keeps its volts defined
LEAK = 0.9e-9  # a conductance below this joins nothing [S]


def _tie_islands(stamper: Stamper, lone: bool) -> None:
    """Put one insulation resistance from each isolated island to the reference: with nothing there its common volts
    would hang on rounding alone, and Newton would never settle. lone: one part by itself has no insulation to anything."""
    root: dict[str, str] = {}

    def find(x: str) -> str:
        while root.setdefault(x, x) != x:
            x = root[x]
        return x

    elements = [*stamper.linear, *stamper.caps, *stamper.coils, *stamper.sources, *stamper.devices]
    blocks = set() if lone else {id(e) for e in stamper.caps}  # a Y capacitor takes no insulation away, nor does its leak
    if not lone:
        blocks |= {id(e) for e in stamper.linear if len(e.nodes) == 2 and np.any(e.numbers[0] < LEAK)}
    for e in elements:
        if id(e) in blocks:
            continue
        split = len(e.nodes) == 4 and (e.kind < 0 or e.kind == OPTO)
        for group in (e.nodes[:2], e.nodes[2:]) if split else (e.nodes,):
            for other in group[1:]:
                root[find(other)] = find(group[0])
    size = Counter(find(n) for n in dict.fromkeys(n for e in elements for n in e.nodes))
    for top, nets in size.items():
        if top != find(REFERENCE) and (nets > 1 or lone):  # a net by itself behind a capacitor has the leak of that
            stamper.resistor(top, REFERENCE, INSULATION)


def build_network(
    circuit: Circuit, values: PartValues, batch: int, *, powered: bool, pairs: Iterable[tuple[str, str]] = ()
) -> Network:
    """Stamp every part of the circuit. values: ref -> parameter -> (batch,). pairs: net pairs a meter will be put across."""
    stamper = Stamper(powered=powered)
    for part in circuit.parts:
        stamper.prefix = part.ref
        family_of(part).stamp(stamper, part.pins, values[part.ref])
    _tie_islands(stamper, len(circuit.parts) == 1)
    groups = (stamper.linear, stamper.caps, stamper.coils, stamper.sources, stamper.devices)
    names = dict.fromkeys([*circuit.nets, *(n for g in groups for e in g for n in e.nodes)])
    names.pop(REFERENCE, None)
    number = {name: i for i, name in enumerate(names)}
    wanted: set[tuple[int, int]] = set()
    for nodes in [*(e.nodes for g in groups for e in g), *pairs]:
        known = [number[n] for n in nodes if n in number]
        wanted |= {(i, j) for i in known for j in known if i != j}
    tape = make_tape(len(number), wanted)
    place = {node: i for i, node in enumerate(tape.order)}
    nets = {name: place[i] for name, i in number.items()} | {REFERENCE: -1}

    def ends(elements: list[Element], width: int) -> NDArray[np.int64]:
        out = np.full((len(elements), width), -1, np.int64)
        for e, element in enumerate(elements):
            out[e, : len(element.nodes)] = [nets[n] for n in element.nodes]
        return out

    def numbers(elements: list[Element], k: int) -> Array:
        columns = [np.broadcast_to(e.numbers[k] if k < len(e.numbers) else 0.0, (batch,)) for e in elements]
        return np.ascontiguousarray(np.stack(columns, 1)) if columns else np.zeros((batch, 0))

    weights = np.zeros((batch, len(stamper.linear), 4))
    for e, element in enumerate(stamper.linear):
        for k, w in enumerate(element.weights):
            weights[:, e, k] = w
    params = np.zeros((batch, len(stamper.devices), 4))
    for k in range(4):
        params[:, :, k] = numbers(stamper.devices, k)
    return Network(
        batch,
        circuit.unit.hertz,
        nets,
        tape,
        (ends(stamper.linear, 4), weights, numbers(stamper.linear, 0)),
        (ends(stamper.caps, 2), numbers(stamper.caps, 0), numbers(stamper.caps, 1)),
        (ends(stamper.coils, 2), numbers(stamper.coils, 0), numbers(stamper.coils, 1)),
        (ends(stamper.sources, 2), numbers(stamper.sources, 0), numbers(stamper.sources, 1), numbers(stamper.sources, 2)),
        (np.asarray([e.kind for e in stamper.devices], np.int64), ends(stamper.devices, 5), params),
    )
