"""From a read sheet to the circuit: starting sheet, places, parts, ways, controls and claims put together."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from halfsplit.circuit.bindings import apply_bindings
from halfsplit.circuit.checks import shorted_mains
from halfsplit.circuit.model import Circuit, Part
from halfsplit.circuit.notation import Families, nearest_known
from halfsplit.circuit.part_lines import parts_from_sheet
from halfsplit.circuit.sheet import Item, SheetText
from halfsplit.circuit.starting.place_names import place_words
from halfsplit.circuit.ways import ways_into

_ZERO = re.compile(r"0 ?v\w*|gnd\w*|com|ground|cold-", re.IGNORECASE)


def build_circuit(sheet: SheetText, families: Families, start: Circuit | None = None) -> Circuit:
    """The circuit of a sheet, on top of its starting sheet if there is one.

    Parameters: start, the circuit that the `start` line means, or None.
    Returns: Circuit; with the outlet added where nets L and N are traced and no outlet stands on the sheet.
    Raises: SheetError at line and column, UnknownName with the nearest names.
    """
    places = tuple(p.place for p in start.parts if p.place) if start else ()
    lines = parts_from_sheet(sheet, families, places, place_words(start) if start else {})
    circuit = start or Circuit(unit=sheet.unit, parts=(), grounds={"hot": "N"})
    circuit = replace(circuit, unit=sheet.unit)
    circuit = apply_bindings(_without(circuit, lines.absent, families), lines.bindings, families)
    for part in lines.parts:
        if part.ref in circuit.names:
            raise lines.positions[part.ref].fault(
                f"{part.ref} is already on the starting sheet; name its place, like {part.ref} bulk-cap 68u"
            )
    circuit = ways_into(circuit.with_parts((*circuit.parts, *lines.parts)), sheet.ways, families)
    circuit = circuit.with_parts(tuple(_rated(p, families, circuit.unit.volts) for p in circuit.parts))
    circuit = _with_outlet(circuit, families)
    circuit = replace(
        circuit,
        symptom=tuple(i.text for i in sheet.symptom) or circuit.symptom,
        start=sheet.start.text if sheet.start else circuit.start,
    )
    circuit = _with_claims(circuit, sheet, families)
    circuit = replace(circuit, switching=circuit.switching | _switching(circuit, families))
    if short := shorted_mains(circuit, families):
        raise sheet.unit_item.fault(
            f"L and N are one piece of wire through {', '.join(short) or 'a shared net'}; look at that way again"
        )
    return circuit


def _rated(part: Part, families: Families, mains: float) -> Part:
    """The part with the values that follow from what is written on it. From volts that nobody wrote they are doubtful."""
    family = families.get(part.family)
    if family is None:
        return part
    known = {**part.ratings, **part.values}
    names = {p.name for p in family.params}
    more = {k: x for k, x in family.rated_values(known, mains).items() if k in names and k not in part.values}
    doubts = part.doubts if "volts" in known else part.doubts | (set(more) - {"volts"})
    return replace(part, values={**part.values, **more}, doubts=doubts)


def _without(circuit: Circuit, absent: tuple[Item, ...], families: Families) -> Circuit:
    """`no mov`: assumed parts of that place or block are left out. What the current has to go through cannot be absent."""
    synonyms = place_words(circuit)
    for item in absent:
        stem = synonyms.get(item.text, item.text)
        gone = [p for p in circuit.parts if p.assumed and p.place and f"{p.place}-".lower().startswith(f"{stem}-".lower())]
        kept = tuple(p for p in circuit.parts if p not in gone)
        ends = {net for p in kept for net in p.pins.values()}
        for part in gone:
            alone = [n for n in part.pins.values() if n in ends and _ends(kept, n) < 2]
            if alone and families[part.family].protector:
                raise item.fault(
                    f"no {item.text}: {alone[0]} would hang in the air and a protector would be missing; "
                    "say what the way goes through there"
                )
            if alone:
                raise item.fault(f"no {item.text}: {alone[0]} would hang in the air; say under ways what is there instead")
        circuit = replace(
            circuit.with_parts(kept),
            chain=tuple(c for c in circuit.chain if c not in {p.place for p in gone}),
            absent=circuit.absent | {item.text},
        )
    return circuit


def _ends(parts: tuple[Part, ...], net: str) -> int:
    return sum(n == net for p in parts for n in p.pins.values())


def _with_outlet(circuit: Circuit, families: Families) -> Circuit:
    """The wall outlet, which no sheet writes."""
    nets = set(circuit.nets)
    kind = next((f.name for f in families.values() if f.outlet), None)
    there = any(p.family in families and families[p.family].outlet for p in circuit.parts)
    if kind is None or not {"L", "N"} <= nets or there:
        return circuit
    values = {"volts": circuit.unit.volts, "hertz": circuit.unit.hertz}
    outlet = Part(ref=kind, family=kind, pins={"L": "L", "N": "N"}, values=values, place=kind, assumed=True)
    return circuit.with_parts((outlet, *circuit.parts))


def _with_claims(circuit: Circuit, sheet: SheetText, families: Families) -> Circuit:
    """Cold claims, grounds, controls and nets that no probe reaches; each has to name something that is here."""
    cold = tuple(_net(circuit, item, "net under cold") for item in sheet.cold)
    cant = frozenset(_net(circuit, item, "net under cant") for item in sheet.cant)
    circuit = replace(circuit, cold_claims=circuit.cold_claims | frozenset(cold), cant=circuit.cant | cant)
    circuit = replace(circuit, grounds=grounds_of(circuit, cold))
    controls = dict(circuit.controls)
    for control, words in sheet.does:
        driven, circuit = _drives(circuit, words, families)
        controls[control.text] = driven
    return replace(circuit, controls=controls)


def _switching(circuit: Circuit, families: Families) -> frozenset[str]:
    """Nets that no meter may touch while on, by what hangs on them."""
    known = ((p, families[p.family]) for p in circuit.parts if p.family in families)
    return frozenset(p.pins[pin] for p, family in known for pin in family.switching if pin in p.pins)


def _net(circuit: Circuit, item: Item, what: str) -> str:
    low = {n.lower(): n for n in circuit.nets}
    if item.text.lower() not in low:
        raise nearest_known(what, item.text, circuit.nets, item)
    return low[item.text.lower()]


def grounds_of(circuit: Circuit, cold: tuple[str, ...]) -> dict[str, str]:
    """Island -> its 0 V. The hot one is hot-, else an 0 V that nobody claims cold, else N."""
    nets, grounds = circuit.nets, dict(circuit.grounds)
    if grounds.get("hot") not in nets or (grounds["hot"] == "N" and not circuit.start):
        free = [n for n in nets if _ZERO.fullmatch(n) and n not in circuit.cold_claims and n != grounds.get("cold")]
        grounds["hot"] = "hot-" if "hot-" in nets else free[0] if free else "N"
    if cold and grounds.get("cold") not in cold:
        grounds["cold"] = next((n for n in cold if _ZERO.fullmatch(n)), cold[-1])
    return grounds


def _drives(circuit: Circuit, words: Item, families: Families) -> tuple[Mapping[str, str], Circuit]:
    """`U2.relay high; U2.motor low` -> pin: level, and the circuit in which each pin is there."""
    out: dict[str, str] = {}
    for text in re.split(r"[;,]", words.text):
        hit = re.fullmatch(r"\s*(?P<part>[\w-]+)\.(?P<pin>[\w-]+)\s+(?P<level>high|low)\s*", text, re.IGNORECASE)
        if hit is None:
            raise words.fault(f"{text.strip()!r} is no output; write it like U2.relay high")
        part = circuit.names.get(hit["part"])
        if part is None:
            raise nearest_known("part", hit["part"], tuple(circuit.names), words)
        pins = {pin.lower(): pin for pin in part.pins}
        if hit["pin"].lower() not in pins:
            raise nearest_known(f"pin of {part.ref}", hit["pin"], tuple(part.pins), words)
        pin = pins[hit["pin"].lower()]
        out[f"{part.ref}.{pin}"] = hit["level"].lower()
        circuit = _with_output(circuit, part, pin, families)
    return out, circuit


def _with_output(circuit: Circuit, part: Part, pin: str, families: Families) -> Circuit:
    """The first driven pin of a part is also its family's output, which has another name there."""
    outputs = families[part.family].outputs
    if not outputs or pin in families[part.family].pins or outputs[0] in part.pins:
        return circuit
    new = replace(part, pins={**part.pins, outputs[0]: part.pins[pin]})
    return circuit.with_parts(tuple(new if p is part else p for p in circuit.parts))


def with_loose_legs(circuit: Circuit, families: Families) -> Circuit:
    """The circuit as it can be solved while it is still being traced: a leg that is on no net yet goes nowhere, on a net of its own."""
    parts = []
    for part in circuit.parts:
        family = families.get(part.family)
        pins = () if family is None else tuple(p for p in family.pins if p not in part.pins and p not in family.outputs)
        parts.append(replace(part, pins={**part.pins, **{pin: part.loose(pin) for pin in pins}}) if pins else part)
    return circuit.with_parts(tuple(parts))
