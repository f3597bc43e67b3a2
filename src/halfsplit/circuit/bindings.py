"""Giving designators to the places of a starting sheet. The place stays, so that nothing that was read on it moves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from halfsplit.circuit.model import Circuit, Part
from halfsplit.circuit.notation import Families, fill_part, letters_of, nearest_known, remark_values
from halfsplit.circuit.part_lines import Binding, with_pins
from halfsplit.parts.base import Family

_ADDS_UP = {"series": ("ohm", "H", "V"), "parallel": ("F", "A", "W")}


def apply_bindings(circuit: Circuit, bindings: Iterable[Binding], families: Families) -> Circuit:
    """The circuit with each placed part replaced by what was found on the board.

    A value that nobody wrote stays as assumed and is doubtful. Parts in series get a joint named after them.
    Raises: UnknownName for a place that is not here, SheetError.
    """
    for binding in bindings:
        for single in _spread(circuit, binding, families):
            circuit = _bind(circuit, single, families)
    return circuit


def place_ends(circuit: Circuit, place: str) -> tuple[str, str] | None:
    """The two nets of a place, also after it became several parts in series (start-up-R.1, start-up-R.2)."""
    split = [p for p in circuit.parts if p.place and (p.place == place or p.place.rpartition(".")[0] == place)]
    if not split or any(len(p.pins) != 2 for p in split):
        return None
    first, last = list(split[0].pins.values()), list(split[-1].pins.values())
    return first[0], last[1]


def _spread(circuit: Circuit, binding: Binding, families: Families) -> list[Binding]:
    """`Q2+Q3 latch-pair`: one designator for each place of that block which takes this letter."""
    if any(p.place == binding.place for p in circuit.parts):
        return [binding]
    item, stem = binding.position, binding.place.removesuffix("pair")
    letters = letters_of(binding.refs[0])
    kinds = {n for f in families.values() if letters in f.letters for n in (f.name,)}
    legs = {len(families[n].pins) for n in kinds}
    places = [
        p.place
        for p in circuit.parts
        if binding.place.endswith("-pair")
        and p.place
        and p.place.startswith(stem)
        and p.family in families
        and (p.family in kinds or len(families[p.family].pins) in legs)
    ]
    if not places:
        raise nearest_known("place", binding.place, tuple(p.place for p in circuit.parts if p.place), item)
    if len(places) != len(binding.refs):
        raise item.fault(f"{binding.place} stands for {', '.join(places)}; give {len(places)} designators")
    return [
        replace(binding, refs=(ref,), place=place, specs=(spec,), join=None)
        for ref, place, spec in zip(binding.refs, places, binding.specs)
    ]


def _bind(circuit: Circuit, binding: Binding, families: Families) -> Circuit:
    old = next(p for p in circuit.parts if p.place == binding.place)
    family = families[old.family]
    others = {p.ref for p in circuit.parts if p is not old}
    for ref in binding.refs:
        if ref in others or ref in circuit.nets:
            raise binding.position.fault(f"{ref} is already the name of something else here; look at the board again")
    new = _named(old, family, binding)
    at = circuit.parts.index(old)
    circuit = circuit.with_parts((*circuit.parts[:at], *new, *circuit.parts[at + 1 :]))
    return _renamed(circuit, old, new)


def _named(old: Part, family: Family, binding: Binding) -> tuple[Part, ...]:
    count = len(binding.refs)
    if count > 1 and len(old.pins) != 2:
        raise binding.position.fault(
            f"a {family.name} has {len(old.pins)} legs and cannot be several in one; write one designator"
        )
    out = []
    for index, (ref, spec) in enumerate(zip(binding.refs, binding.specs)):
        place = f"{old.place}.{index + 1}" if binding.join == "series" else old.place if index == 0 else None
        part = replace(
            old,
            ref=ref,
            place=place,
            assumed=False,
            values=_share(old, family, binding),
            words=binding.position.text,
            pins=_ends(old, binding, index),
            doubts=old.doubts | set(old.values),
        )
        part = fill_part(part, family, spec, binding.position)
        for remark in binding.remarks:
            part = remark_values(part, family, remark, binding.position)
        if binding.doubtful:
            part = replace(part, doubts=part.doubts | {"part"})
        out.append(with_pins(part, family, binding.pins, binding.position) if count == 1 else part)
    return tuple(out)


def _share(old: Part, family: Family, binding: Binding) -> dict[str, float]:
    """What of the assumed main value falls to each of several parts."""
    values, count = dict(old.values), len(binding.refs)
    main = next((p for p in family.params if p.name == family.main_value), None)
    if count > 1 and main is not None and main.name in values:
        together = main.unit in _ADDS_UP[binding.join or "series"]
        values[main.name] = values[main.name] / count if together else values[main.name] * count
    return values


def _ends(old: Part, binding: Binding, index: int) -> dict[str, str]:
    pins = dict(old.pins)
    if binding.join != "series":
        return pins
    first, last = pins
    if index > 0:
        pins[first] = f"{binding.refs[index - 1]}/{binding.refs[index]}"
    if index < len(binding.refs) - 1:
        pins[last] = f"{binding.refs[index]}/{binding.refs[index + 1]}"
    return pins


def _renamed(circuit: Circuit, old: Part, new: tuple[Part, ...]) -> Circuit:
    """The chain and the controls follow a part that changed its name."""

    def links(link: str) -> tuple[str, ...]:
        if link == old.place and len(new) > 1:
            return tuple(p.ref for p in new)
        return (new[0].place or new[0].ref,) if link == old.ref and old.ref != old.place else (link,)

    return replace(circuit, chain=tuple(name for link in circuit.chain for name in links(link)))
