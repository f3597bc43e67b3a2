"""What of each net is a wire and what a return sign; which side of the boundary each part stands on; how far from the plug."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit, Part
from halfsplit.parts import family_of
from halfsplit.parts.symbols import Symbol, shape_of

EARTHS = frozenset({"earth", "pe"})


@dataclass(frozen=True)
class Plan:
    """The circuit as the drawing sees it.

    wired: net -> (ref, pin) joined by wires. returned: (ref, pin) -> (kind of sign, words). sides: ref -> "hot" | "cold" |
    "across". far: net -> parts between it and the plug. isolated: there is a cold side. rails: nets that a line runs
    along, drawn as straight as can be.
    """

    symbols: Mapping[str, Symbol]
    wired: Mapping[str, tuple[tuple[str, str], ...]]
    returned: Mapping[tuple[str, str], tuple[str, str]]
    sides: Mapping[str, str]
    islands: Mapping[str, str]
    far: Mapping[str, int]
    isolated: bool
    rails: frozenset[str]


def plan_of(circuit: Circuit) -> Plan:
    symbols = {p.ref: shape_of(family_of(p).symbol, _legs(p)) for p in circuit.parts}
    islands = islands_of(circuit)
    kinds = _return_nets(circuit, islands)
    on_rail = _rail_pins(circuit, symbols, kinds)
    pins = {p.ref: p.pins for p in circuit.parts}
    returned: dict[tuple[str, str], tuple[str, str]] = {}
    wired: dict[str, list[tuple[str, str]]] = {}
    for p in circuit.parts:
        for pin, net in p.pins.items():
            if pin not in symbols[p.ref].legs:
                continue
            if net in kinds and (p.ref, pin) not in on_rail:
                returned[p.ref, pin] = kinds[net]
            else:
                wired.setdefault(net, []).append((p.ref, pin))
    signed = {pins[ref][pin] for ref, pin in returned}
    for net, kind in kinds.items():  # the rail of a net that is also returned elsewhere carries one sign, at the plug
        rail = wired.get(net, [])
        if rail and net in signed:
            returned[rail[0]] = kind
    return Plan(
        symbols,
        {net: tuple(pins) for net, pins in wired.items()},
        returned,
        {p.ref: _side(p, symbols[p.ref], islands) for p in circuit.parts},
        islands,
        _far(circuit, set(kinds)),
        any(side == "cold" for side in islands.values()),
        frozenset(p.pins[x] for p in circuit.parts for pair in symbols[p.ref].through for x in pair if x in p.pins),
    )


def _legs(part: Part) -> list[str]:
    """Its pins, without a general output pin that only repeats a named one of the same net."""
    family = family_of(part)
    named = {net for pin, net in part.pins.items() if pin not in family.pins}
    return [pin for pin, net in part.pins.items() if not (pin in family.outputs and net in named)]


def _return_nets(circuit: Circuit, islands: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """0 V net -> (kind of sign, words): words only where two nets would share a sign."""
    found: dict[str, str] = {}
    for island, net in circuit.grounds.items():
        if net in islands:
            found[net] = "earth" if island.lower() in EARTHS else islands[net]
    for net in islands:
        if net.lower() in EARTHS:
            found[net] = "earth"
    kinds = list(found.values())
    return {net: (kind, net if kinds.count(kind) > 1 else "") for net, kind in found.items()}


def _rail_pins(circuit: Circuit, symbols: Mapping[str, Symbol], kinds: Mapping[str, tuple[str, str]]) -> set[tuple[str, str]]:
    """Pins of the neutral that are drawn as a rail although it is a 0 V net too: of parts that stand between line and neutral."""
    line, grown = {"L"}, True
    while grown:
        grown = False
        for p in circuit.parts:
            for a, b in symbols[p.ref].through:
                nets = {p.pins.get(a), p.pins.get(b)} - {None}
                fresh = {n for n in nets if n and n not in kinds and n != "N"} - line
                if fresh and nets & line:
                    line |= fresh
                    grown = True
    out: set[tuple[str, str]] = set()
    for p in circuit.parts:
        sides = family_of(p).sides or (tuple(p.pins),)
        for side in sides:
            nets = {p.pins[pin] for pin in side if pin in p.pins}
            if nets & line:
                out |= {(p.ref, pin) for pin in side if p.pins.get(pin) == "N"}
    return out if len(out) > 1 else set()


def _side(part: Part, symbol: Symbol, islands: Mapping[str, str]) -> str:
    found = {islands[part.pins[pin]] for pin in symbol.legs}
    return "across" if len(found) > 1 else next(iter(found), "hot")


def _far(circuit: Circuit, returns: set[str]) -> dict[str, int]:
    """Net -> parts between it and the inlet, not going through 0 V nets."""
    far = {"L": 0, "N": 0}
    step, edge = 0, {"L", "N"}
    while edge:
        step += 1
        fresh: set[str] = set()
        for p in circuit.parts:
            nets = set(p.pins.values())
            if nets & edge - returns or (step == 1 and nets & edge):
                fresh |= {n for n in nets if n not in far}
        for n in sorted(fresh):
            far[n] = step
        edge = fresh
    return far
