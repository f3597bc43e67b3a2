"""Where a short sits along a rail: a bench ampere into it, and millivolts from joint to joint tell which way the current goes.

All of a rail that is shorted somewhere reads the same few ohms. Before a part is lifted for it, the bench supply at a volt or less tells the
branch: only the track to the short has a drop (common practice).
"""

from __future__ import annotations

from collections.abc import Iterable

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit, Part
from halfsplit.jobs.cards import Card, act_card
from halfsplit.jobs.entry import StateEntry
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.switch import bench_supply, weakest_amps
from halfsplit.jobs.weigh import Weighed
from halfsplit.parts import family_of

VOLTS, AMPS = 1.0, 1.0  # at most, into a rail with a short (common practice: 0.5 to 1 A at no more than a volt)
LEAST_AMPS = 0.1  # below it the drops are within the meter's last digits (bench estimate)
LIKELY, TOGETHER = 0.02, 0.6  # odds from which a short counts, and of all of them together (bench estimates)
MINUTES = 1.5  # to hook it up and set its limits (bench estimate)
TRACK = 0.2  # ohms of a joint or track at most


def costs_a_leg(card: Card) -> bool:
    """Whether a card asks for more than a probe on a dead set: a leg up, the set switched on, or nothing but a group at the end."""
    if card.get("kind") == "round":
        return any(p.get("alone") for p in card.get("probes", ()))
    ends = card.get("kind") == "end" and card.get("verdict") in ("group", "no reading helps")
    return ends or str(card.get("do")).partition(" ")[0] in ("remove", "lift", "on")


def injection_card(gate: Gate, weighed: Weighed, asked: set[str]) -> Card | None:
    """The line to type for a bench ampere into the rail that the likely shorts share; None where there are no such, where nothing
    between them has a drop, where it may not be done as things stand, or where it was asked for before. asked grows."""
    s, kit = gate.standing, gate.kit
    if kit.supply is None or s.power in ("on", "bench") or s.acts.refs or not gate.is_dead():
        return None
    shorts = _shorts(weighed)
    if len(shorts) < 2 or sum(shorts.values()) < TOGETHER:
        return None
    rail = _rail(gate.circuit, [gate.circuit.part(ref) for ref in shorts])
    if len(rail) < 2:
        return None
    side = gate.side_of(rail[0])
    ground = gate.circuit.grounds.get(side)
    healthy = None if ground is None else gate.table.healthy_volts(rail[0], ground)
    if ground is None or healthy is None:
        return None
    volts = min(VOLTS, abs(healthy), kit.supply[0])
    weakest, _ = weakest_amps(gate, side, volts)
    amps = min(AMPS, kit.supply[1], AMPS if weakest is None else weakest)
    pole = "minus" if healthy < 0 else "plus"
    entry = StateEntry(text="", kind="bench", net=rail[0], volts=volts, amps=amps, value=pole)
    key = f"inject {rail[0]}"
    if amps < LEAST_AMPS or key in asked or not bench_supply(gate, entry):
        return None
    asked.add(key)
    text = (
        f"{', '.join(shorts)}: a short in any of them reads the same from here. Bench supply, {pole} on {rail[0]}, the other lead on {ground}, at most "
        f"{volts:g} V and {amps:g} A, the set unplugged; then millivolts from joint to joint: only the way to the short has a drop. `card` goes on without."
    )
    confirm = [f"volts set to {volts:g} V and the limit to {amps:g} A before it is hooked up", f"{pole} on {rail[0]}: looked at twice"]
    return {**act_card(f"bench {rail[0]}", text, MINUTES, "H1", confirm), "type": f"bench {rail[0]} {volts:g}V {amps:g}A {pole}"}


def _shorts(weighed: Weighed) -> dict[str, float]:
    """Part -> odds that it is shorted, of the likely ones, heaviest first."""
    out: dict[str, float] = {}
    for row, odds in zip(weighed.post.rows, weighed.odds, strict=False):
        if row.part and row.way.endswith("short"):
            out[row.part] = out.get(row.part, 0.0) + float(odds)
    return {ref: odds for ref, odds in sorted(out.items(), key=lambda x: -x[1]) if odds >= LIKELY}


def _is_track(part: Part) -> bool:
    """Something between two nets that should have no ohms to speak of, with its place told by a drop."""
    return family_of(part).across_live is not None and len(part.pins) == 2 and 0 < part.values.get("ohms", 0.0) <= TRACK


def _rail(circuit: Circuit, shorts: Iterable[Part]) -> tuple[str, ...]:
    """Nets that tracks join and on which every one of these parts has a pin; the first is where the supply goes. Empty where there is no such.

    The end that comes first on the sheet: a supply in the middle would split what it tells.
    """
    islands, tracks = islands_of(circuit), [p for p in circuit.parts if _is_track(p)]
    ways: dict[str, set[str]] = {}
    for part in tracks:
        a, b = part.pins.values()
        if islands[a] == islands[b]:
            ways.setdefault(a, set()).add(b)
            ways.setdefault(b, set()).add(a)
    parts = list(shorts)
    for start in ways:
        joined, new = {start}, [start]
        while new:
            new = [n for net in new for n in ways[net] if n not in joined]
            joined.update(new)
        if joined.isdisjoint(circuit.grounds.values()) and all(joined & set(p.pins.values()) for p in parts):
            ends = [n for n in circuit.nets if n in joined and len(ways[n]) == 1] or sorted(joined)
            return (ends[0], *(n for n in circuit.nets if n in joined and n != ends[0]))
    return ()
