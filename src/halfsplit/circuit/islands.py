"""Which side of the boundary each net is on, as far as the sheet *claims* it. A claim counts only after it was read."""

from __future__ import annotations

from functools import lru_cache

from halfsplit.circuit.model import Circuit, Part
from halfsplit.parts import family_of

SAFETY_CLASSES = frozenset({"y1", "y2"})  # a Y capacitor reaches across the gap without joining its sides


def islands_of(circuit: Circuit) -> dict[str, str]:
    """Net -> "cold" where the sheet claims it isolated or where it hangs on such a net and not on the mains, else "hot".

    Nothing is cold that can be reached from L or N without crossing insulation inside a part.
    """
    return dict(_islands(tuple((p.ref, p.family, tuple(p.pins.items()), p.tags) for p in circuit.parts), circuit.cold_claims))


@lru_cache(maxsize=64)
def _islands(
    parts: tuple[tuple[str, str, tuple[tuple[str, str], ...], frozenset[str]], ...], claims: frozenset[str]
) -> tuple[tuple[str, str], ...]:
    groups = [g for ref, family, pins, tags in parts for g in _groups(Part(ref, family, dict(pins), tags=tags))]
    nets = list(dict.fromkeys(net for _, _, pins, _ in parts for _, net in pins))
    hot = _reach({"L", "N"} & set(nets), groups, claims)
    cold = _reach(set(claims), groups, hot)
    return tuple((net, "cold" if net in claims or net in cold else "hot") for net in nets)


def _groups(part: Part) -> list[set[str]]:
    """Nets that a part joins; several groups where it is insulated inside."""
    if part.tags & SAFETY_CLASSES:
        return []
    sides = family_of(part).sides or (tuple(part.pins),)
    return [{part.pins[pin] for pin in side if pin in part.pins} for side in sides]


def _reach(start: set[str], groups: list[set[str]], stop: frozenset[str] | set[str]) -> set[str]:
    """Nets that hang together with the start, not going on from nets in stop."""
    seen, todo = set(start), list(start)
    while todo:
        net = todo.pop()
        for group in groups:
            if net in group:
                fresh = {n for n in group if n not in seen and n not in stop}
                seen |= fresh
                todo += fresh
    return seen
