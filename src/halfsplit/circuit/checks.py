"""What looks wrong about a circuit as it was written down."""

from __future__ import annotations

from halfsplit.circuit.model import Circuit, Part
from halfsplit.circuit.notation import Families

WIRE_OHMS = 0.2  # a fuse, link, switch or lead is under this; a load never is (common practice)


def check_circuit(circuit: Circuit, families: Families) -> list[str]:
    """Every doubt about the sheet in one sentence each, the gravest first; empty if there is none.

    Reports: mains shorted through wire-like parts, an absent protector, legs without a net, both legs on one net,
    nets with one end only.
    """
    out = []
    short = shorted_mains(circuit, families)
    if short is not None:
        out.append(f"L and N are joined by {', '.join(short) or 'one net'} alone; look at that way again")
    out += _absent_protectors(circuit, families)
    for part in circuit.parts:
        out += _legs(part, families)
    return out + _single_ends(circuit)


def _absent_protectors(circuit: Circuit, families: Families) -> list[str]:
    words = {w.lower(): f.name for f in families.values() if f.protector for w in (f.name, *f.words)}
    return [
        f"no {word}: a {words[word]} is a protector; look for empty pads or a link in its place before anything is switched on"
        for word in sorted(circuit.absent)
        if word in words
    ]


def _legs(part: Part, families: Families) -> list[str]:
    family = families.get(part.family)
    if family is None:
        return [f"{part.ref}: the kind {part.family!r} is not known here"]
    missing = [pin for pin in family.pins if part.pins.get(pin) in (None, part.loose(pin)) and pin not in family.outputs]
    out = [f"{part.ref}: leg {' and '.join(missing)} is on no net; trace it, or write pin=net"] if missing else []
    nets = [part.pins[pin] for pin in family.pins if pin in part.pins]
    if len(family.pins) == 2 and len(nets) == 2 and nets[0] == nets[1]:
        out.append(f"{part.ref}: both legs are on {nets[0]}; look at that way again")
    return out


def _single_ends(circuit: Circuit) -> list[str]:
    ends: dict[str, list[str]] = {}
    for part in circuit.parts:
        for net in set(part.pins.values()):
            ends.setdefault(net, []).append(part.ref)
    return [
        f"{net} has one end only, at {refs[0]}; a slip of the pen, or where does it go on?"
        for net, refs in ends.items()
        if len(refs) == 1 and "/" not in net
    ]


def shorted_mains(circuit: Circuit, families: Families) -> tuple[str, ...] | None:
    """The wire-like parts that join L and N on their own; None if nothing does."""
    outlet = next((p for p in circuit.parts if set(p.pins) == {"L", "N"}), None)
    first, last = (outlet.pins["L"], outlet.pins["N"]) if outlet else ("L", "N")
    reached: dict[str, tuple[str, ...]] = {first: ()}
    queue = [first]
    while queue:
        net = queue.pop(0)
        if net == last:
            return reached[net]
        for part in circuit.parts:
            ends = tuple(part.pins.values())
            if net in ends and len(ends) == 2 and _wire_like(part, families):
                other = ends[1] if ends[0] == net else ends[0]
                if other not in reached:
                    reached[other] = (*reached[net], part.ref)
                    queue.append(other)
    return None


def _wire_like(part: Part, families: Families) -> bool:
    """Two legs, and nothing but a tiny resistance between them."""
    family = families.get(part.family)
    if family is None or len(family.pins) != 2 or set(part.pins) == {"L", "N"}:
        return False
    usual = {p.name: p.default for p in family.params if p.unit in ("ohm", "H")}
    ohms = part.values.get("ohms", usual.get("ohms"))
    return ohms is not None and ohms <= WIRE_OHMS and "henry" not in usual
