"""From a circuit and a batch of part values to the arrays that the compiled loops solve."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit
from halfsplit.parts import family_of
from halfsplit.parts.stamper import OPTO, Element, Stamper
from halfsplit.solver.tape import Tape, make_tape

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
PartValues = Mapping[str, Mapping[str, Array]]
REFERENCE = "N"


class Net(NamedTuple):
    """A pattern as the compiled loops take it. Nodes are in elimination order; the reference is one node more.

    rowptr, col, diag: where each row of values begins, the column of each value, the place of each diagonal. mid: first value of a row that isn't
    in the column of a lead node. optr, tgt: what eliminating with a value changes. lead (1,): how many nodes are touched by no device and no meter; they
    come first and are eliminated once for all. The rest: ends of each element and places of its stamp; dev_k: kinds of the devices.
    """

    rowptr: Ints
    col: Ints
    diag: Ints
    mid: Ints
    optr: Ints
    tgt: Ints
    lead: Ints
    lin_n: Ints
    lin_pos: Ints
    cap_n: Ints
    cap_pos: Ints
    coil_n: Ints
    coil_pos: Ints
    src_n: Ints
    src_pos: Ints
    dev_k: Ints
    dev_n: Ints
    dev_pos: Ints


class Values(NamedTuple):
    """Part values of a batch as the compiled loops take them: as in Network, the batch first."""

    lin_w: Array
    lin_g: Array
    cap_c: Array
    cap_r: Array
    coil_l: Array
    coil_r: Array
    src_dc: Array
    src_pk: Array
    src_g: Array
    dev_p: Array


@dataclass(frozen=True)
class Pattern:
    """What all networks of one shape share: where each net stands, where each element is stamped.

    nets: net name -> place in the elimination order, -1 for the reference. ends: nodes of the linear elements, capacitors, coils, sources
    and devices (elements, 4 or 2 or 5), -1 for the reference and for what an element doesn't have. net: what the compiled loops take.
    """

    nets: Mapping[str, int]
    tape: Tape
    ends: tuple[Ints, Ints, Ints, Ints, Ints]
    kinds: Ints
    net: Net


@dataclass(frozen=True)
class Network:
    """One circuit with the part values of a whole batch, ready to solve. Arrays have the batch axis first, then the elements.

    lin: weights and conductance [S]. caps: capacitance and series resistance [F, ohm]. coils: inductance and resistance [H, ohm].
    sources: DC and peak volts, conductance [V, V, S]. devices: parameters by kind.
    """

    batch: int
    hertz: float
    pattern: Pattern
    lin: tuple[Array, Array]
    caps: tuple[Array, Array]
    coils: tuple[Array, Array]
    sources: tuple[Array, Array, Array]
    devices: Array

    @property
    def nets(self) -> Mapping[str, int]:
        """Net name -> place in the elimination order, -1 for the reference."""
        return self.pattern.nets

    @cached_property
    def size(self) -> int:
        return len(self.pattern.tape.order)

    @property
    def values(self) -> Values:
        """Everything that the compiled loops take beside the pattern."""
        arrays = (*self.lin, *self.caps, *self.coils, *self.sources, self.devices)
        return Values(*(np.ascontiguousarray(x, float) for x in arrays))

    def take(self, rows: Ints) -> Network:
        """The network of some rows of the batch."""
        w, g = self.lin
        c, r = self.caps
        lh, lr = self.coils
        dc, pk, sg = self.sources
        return Network(
            len(rows),
            self.hertz,
            self.pattern,
            (w[rows], g[rows]),
            (c[rows], r[rows]),
            (lh[rows], lr[rows]),
            (dc[rows], pk[rows], sg[rows]),
            self.devices[rows],
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
    touched = Counter(n for e in elements for n in e.nodes)
    islands: dict[str, list[str]] = {}
    for net in touched:
        islands.setdefault(find(net), []).append(net)
    for top, nets in islands.items():
        if top != find(REFERENCE) and (len(nets) > 1 or lone):  # a net by itself behind a capacitor has the leak of that
            # at its return, which most parts touch: what leaks must not cross the circuit, least of all another way in every batch
            stamper.resistor(max(nets, key=lambda n: touched[n]), REFERENCE, INSULATION)


Groups = tuple[tuple[tuple[str, ...], ...], ...]


@lru_cache(maxsize=256)
def _pattern(names: tuple[str, ...], groups: Groups, kinds: tuple[int, ...], pairs: frozenset[tuple[str, str]]) -> Pattern:
    """Pattern of a network from the nodes of its elements; the same shape is worked out once, whatever the values.

    Nodes that a device or a meter touches are eliminated last: what is stamped on the others stays as it is while these change.
    """
    number = {name: i for i, name in enumerate(names)}
    wanted: set[tuple[int, int]] = set()
    for nodes in [*(n for g in groups for n in g), *pairs]:
        known = [number[n] for n in nodes if n in number]
        wanted |= {(i, j) for i in known for j in known if i != j}
    late = {number[n] for nodes in [*groups[4], *pairs] for n in nodes if n in number}
    tape = make_tape(len(number), wanted, late)
    place = {node: i for i, node in enumerate(tape.order)}
    nets = {name: place[i] for name, i in number.items()} | {REFERENCE: -1}
    ends, arrays = [], list(tape.arrays)
    for group, width in zip(groups, (4, 2, 2, 2, 5)):
        at = np.full((len(group), width), -1, np.int64)
        for e, nodes in enumerate(group):
            at[e, : len(nodes)] = [nets[n] for n in nodes]
        ends.append(at)
        if width == 5:
            arrays.append(np.asarray(kinds, np.int64))
        solid = np.where(at < 0, len(number), at)
        arrays += [solid, tape.pos[solid[:, :, None], solid[:, None, :]].reshape(len(group), width * width)]
    lin, caps, coils, sources, devices = ends
    return Pattern(nets, tape, (lin, caps, coils, sources, devices), np.asarray(kinds, np.int64), Net(*arrays))


def pulsed(circuit: Circuit) -> bool:
    """Whether some part of it fires others by pulses."""
    return any(family_of(p).pulses for p in circuit.parts)


def build_network(
    circuit: Circuit, values: PartValues, batch: int, *, powered: bool, pairs: Iterable[tuple[str, str]] = ()
) -> Network:
    """Stamp every part of the circuit. values: ref -> parameter -> (batch,). pairs: net pairs a meter will be put across."""
    stamper = Stamper(powered=powered, pulsed=pulsed(circuit))
    for part in circuit.parts:
        stamper.prefix = part.ref
        stamper.powered = powered and (circuit.fed is None or part.ref in circuit.fed)
        family_of(part).stamp(stamper, part.pins, values[part.ref])
    _tie_islands(stamper, len(circuit.parts) == 1)
    groups = (stamper.linear, stamper.caps, stamper.coils, stamper.sources, stamper.devices)
    names = dict.fromkeys([*circuit.nets, *(n for g in groups for e in g for n in e.nodes)])
    names.pop(REFERENCE, None)
    nodes = tuple(tuple(e.nodes for e in g) for g in groups)
    pattern = _pattern(tuple(names), nodes, tuple(e.kind for e in stamper.devices), frozenset(pairs))

    def numbers(elements: list[Element], k: int) -> Array:
        out = np.zeros((batch, len(elements)))
        for e, element in enumerate(elements):
            if k < len(element.numbers):
                out[:, e] = element.numbers[k]
        return out

    weights = np.zeros((batch, len(stamper.linear), 4))
    for e, element in enumerate(stamper.linear):
        for k, w in enumerate(element.weights):
            weights[:, e, k] = w
    return Network(
        batch,
        circuit.unit.hertz,
        pattern,
        (weights, numbers(stamper.linear, 0)),
        (numbers(stamper.caps, 0), numbers(stamper.caps, 1)),
        (numbers(stamper.coils, 0), numbers(stamper.coils, 1)),
        (numbers(stamper.sources, 0), numbers(stamper.sources, 1), numbers(stamper.sources, 2)),
        np.stack([numbers(stamper.devices, k) for k in range(4)], 2),
    )
