"""Slips of the hand that touch one reading: the prefix, the leads swapped, the pin beside, the part of the same value.

Each says where the value really came from, so that it has a sharp density where plain nonsense has none. Chances are bench
estimates: about one reading in two hundred in all, beside no contact and nonsense. Two readings slip independently: who was
asked and reads the same again has looked where his probe is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.columns import ALONE
from halfsplit.diagnosis.outlook import Column, Outlook
from halfsplit.diagnosis.scale import VOLTS

PREFIX, SWAPPED, BESIDE, TWIN = 0.002, 0.001, 0.0015, 0.001  # per reading (bench estimates)
THOUSAND = 1000.0
LEAST = {"r": 1.0, "c": 1e-11, "v": 0.01, "ac": 0.01, "max": 0.01, "min": 0.01}  # below it a display has no prefix to misread


@dataclass(frozen=True)
class Way:
    """column: where the value was really read. factor: how many times what is there was written down. share: of the slip's chance.
    least: what is there is no smaller [SI], or nobody would take the prefix for another."""

    column: int
    factor: float = 1.0
    share: float = 1.0
    least: float = 0.0


@dataclass(frozen=True)
class Slip:
    """One kind of slip. chance: per reading. ways: column named -> where the value may really come from.

    ask: the question; {there} stands for the place that was really read.
    """

    name: str
    ask: str
    chance: float
    ways: Mapping[int, tuple[Way, ...]]


Place = tuple[str, str, str, str, str]


def _place(column: Column, red: str, black: str, part: str | None = None) -> Place:
    """What a column is found by. Ohms and the rest of a part alone belong to that part."""
    alone = (column.part if part is None else part) if column.state.startswith(ALONE) else None
    return (column.function, red, black, column.state, alone or "")


def _places(outlook: Outlook) -> dict[Place, int]:
    out: dict[Place, int] = {}
    for i, c in enumerate(outlook.columns):
        out.setdefault(_place(c, c.red, c.black), i)  # the board as it is comes before the same place with legs up
    return out


def written_wrong(outlook: Outlook) -> tuple[Slip, ...]:
    """Slips that need no circuit: a prefix misread (k and M; millivolts as volts), and the leads swapped."""
    at = _places(outlook)
    prefix: dict[int, tuple[Way, ...]] = {}
    swapped: dict[int, tuple[Way, ...]] = {}
    for i, c in enumerate(outlook.columns):
        if c.function in VOLTS:
            prefix[i] = (Way(i, THOUSAND, least=LEAST[c.function]),)
        elif c.function in ("r", "c"):
            prefix[i] = (Way(i, THOUSAND, 0.5, LEAST[c.function]), Way(i, 1 / THOUSAND, 0.5, LEAST[c.function]))
        if c.function == "v":
            swapped[i] = (Way(i, -1.0),)
        elif c.function in ("r", "d"):
            back = at.get(_place(c, c.black, c.red))
            if back is not None:
                swapped[i] = (Way(back),)
    return (
        Slip("prefix", "is the prefix right, m or k or M?", PREFIX, prefix),
        Slip("leads swapped", "were the leads swapped?", SWAPPED, swapped),
    )


def put_wrong(outlook: Outlook, circuit: Circuit, columns: Iterable[int]) -> tuple[Slip, ...]:
    """Slips that the circuit shows, for these columns: the probe on the pin beside the right one, and on the part of the same
    value."""
    at, near = _places(outlook), _nets_beside(circuit.parts)
    beside: dict[int, tuple[Way, ...]] = {}
    twin: dict[int, tuple[Way, ...]] = {}
    for i in sorted(set(columns)):
        c = outlook.columns[i]
        if not c.state.startswith(ALONE):
            nets = [(n, c.black) for n in near.get(c.red, ())] + [(c.red, n) for n in near.get(c.black, ()) if not c.live]
            beside[i] = _found([at.get(_place(c, *pair)) for pair in nets if pair[0] != pair[1]])
        twin[i] = _found([at.get(place) for place in _twins(c, circuit.parts)])
    return (
        Slip("pin beside", "was the probe on the pin beside it, at {there}?", BESIDE, {i: w for i, w in beside.items() if w}),
        Slip("twin part", "was it {there}, of the same value?", TWIN, {i: w for i, w in twin.items() if w}),
    )


def _found(places: Sequence[int | None]) -> tuple[Way, ...]:
    """Every place has its share of the chance; one that is no column of the outlook leaves its own to plain nonsense."""
    return tuple(Way(p, share=1.0 / len(places)) for p in places if p is not None)


def _nets_beside(parts: Sequence[Part]) -> dict[str, tuple[str, ...]]:
    """Net -> nets at the pins before and after one of its own, in the order of the part's pins."""
    near: dict[str, dict[str, None]] = {}
    for part in parts:
        nets = list(part.pins.values())
        for a, b in zip(nets, nets[1:], strict=False):
            if a != b:
                near.setdefault(a, {})[b] = None
                near.setdefault(b, {})[a] = None
    return {net: tuple(others) for net, others in near.items()}


def _twins(column: Column, parts: Sequence[Part]) -> list[Place]:
    """The same pins of every other part with the same family and values as one that this column is read across."""
    out: dict[Place, None] = {}
    for part in parts:
        pins = [(p, q) for p, a in part.pins.items() for q, b in part.pins.items() if (a, b) == (column.red, column.black)]
        if not pins or column.part not in (None, part.ref):
            continue
        for other in parts:
            if other.ref == part.ref or other.family != part.family or other.values != part.values:
                continue
            for p, q in pins:
                if p in other.pins and q in other.pins:
                    out[_place(column, other.pins[p], other.pins[q], other.ref)] = None
    out.pop(_place(column, column.red, column.black), None)
    return list(out)
