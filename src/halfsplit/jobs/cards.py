"""Cards as plain data: what to do next, in words a hand can follow, with the volts and the caution where they matter."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from halfsplit.diagnosis.columns import ALONE, Condition
from halfsplit.diagnosis.outlook import Column
from halfsplit.diagnosis.proposal import Proposal, healthy_band
from halfsplit.diagnosis.verdict import Verdict
from halfsplit.jobs.entry_names import own_blacks
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.safety import NoGo, caution, hazard, live_card_confirm
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import Weighed
from halfsplit.parts import family_of
from halfsplit.repair.cause import cause_text
from halfsplit.repair.discharge import HEAVY_JOULES, HeavyCap, discharge_text, held_text, plan_discharge, tool_text

ALSO = 0.1  # odds of a second fault above which the end names it
Card = dict[str, Any]
METER_ON = {
    "v": "DC volts",
    "ac": "AC volts",
    "max": "DC volts, MAX",
    "min": "DC volts, MIN",
    "r": "ohms",
    "d": "diode test",
    "c": "capacitance",
    "esr": "ESR",
    "every": "a watch",
}


def act_card(do: str, text: str, minutes: float, hazard: str, confirm: Sequence[str] = ()) -> Card:
    """Something to do, then to enter."""
    return {"kind": "act", "do": do, "text": text, "type": do, "minutes": minutes, "hazard": hazard, "confirm": list(confirm)}


def off_card() -> Card:
    """Pull the plug."""
    return act_card("off", "Pull the plug. Off is not dead: capacitors may still hold.", 0.2, "H3")


def dead_card(gate: Gate, sides: Collection[str]) -> Card:
    """Discharge and read the named capacitors of these sides; the meter on a known source before, where it was not yet."""
    caps = gate.named(sides)
    heavy = [cap for cap in caps if cap.joules is None or cap.joules > HEAVY_JOULES]
    lines = [discharge_text(plan_discharge(cap)) for cap in heavy if cap.volts != 0.0]
    rest = [cap.name for cap in caps if cap not in heavy]
    if rest:
        lines.append(f"{'Then read' if lines else 'Read'} the volts at {', '.join(rest)}{' too' if lines else ''}.")
    names = [cap.name for cap in caps]
    proven = gate.meter_proven()
    if not proven:
        lines.insert(
            0, "First touch a source you know, a 9 V battery say, with the same leads, and begin the line with what it shows."
        )
    lines.append("Where one shows 0.0 touch the known source again and end the line with it: an open lead shows 0.0 too.")
    first = next((cap for cap in caps if cap.volts), None)
    card = act_card(
        "dead " + " ".join(names),
        " ".join(lines),
        1.0,
        "H3",
        [
            "the same meter, same leads, showed a known voltage before and shows it again after",
            *([caution(f"{first.name} +", first.volts, "H3")] if first else []),
        ],
    )
    source = "" if proven else "9V "
    return {
        **card,
        "caps": names,
        "places": [_place(cap, heavy=cap in heavy) for cap in caps],
        "steps": lines,
        "meter": "proven" if proven else "prove",
        "type": f"dead {source}" + " ".join(f"{n} " for n in names),
    }


def _place(cap: HeavyCap, *, heavy: bool) -> Card:
    """One capacitor of a dead card: what it may hold, the tool where one is wanted, and what to mind."""
    plan = plan_discharge(cap)
    wanted = heavy and cap.volts != 0.0
    return {"name": cap.name, "held": held_text(plan), "tool": tool_text(plan) if wanted else "", "mind": plan.advice if wanted else ""}


def recheck_card(caps: Sequence[HeavyCap], seconds: float) -> Card:
    """Read again, a minute after they were emptied, what was really charged."""
    names = [cap.name for cap in caps]
    when = f"In {math.ceil(seconds)} s read" if seconds > 0 else "Read"
    text = f"{when} the volts at {', '.join(names)} once more before ohms: some of the charge creeps back within a minute."
    card = act_card("dead " + " ".join(names), text, round(0.3 + seconds / 60, 2), "H3")
    return {
        **card,
        "caps": names,
        "meter": "proven",
        "wait": math.ceil(seconds),
        "type": "dead " + " ".join(f"{n} " for n in names),
    }


def meter_card() -> Card:
    """The second live of live, dead, live."""
    text = (
        "0.0 V where a charge may have been: an open lead shows the same. Touch the source you know again, with the same leads."
    )
    return {**act_card("meter", text, 0.2, "H0"), "type": "meter 9V"}


def bench_off_card() -> Card:
    """The bench supply comes off before anything else."""
    return act_card(
        "bench none", "Switch the bench supply off and take it from the board; its side is not dead by that.", 0.3, "H1"
    )


def on_card(gate: Gate, condition: Condition, column: Column) -> Card:
    """Going live: what has to be true, each a line."""
    cold = gate.side_is_cold(column)
    volts = gate.peaks(condition).get(column.red)
    confirm = _cold_list(gate, column, volts) if cold else _hot_list(gate, condition, column, volts)
    lamp = f" through the {condition.lamp:g} W lamp" if condition.lamp else ""
    card = act_card("on", f"Clip black on {column.black}. Switch on by hand{lamp}.", 2.0, column.hazard, confirm)
    return {**card, "live": "cold" if cold else "hot"}


def confirm_card(gate: Gate, condition: Condition, column: Column) -> Card:
    """The going-live list of the mains side, for a set that is on already; said yes to once a power cycle."""
    confirm = _hot_list(gate, condition, column, gate.peaks(condition).get(column.red))
    text = f"{column.red} is on the mains side and live. Say yes only if every line is true; else switch off first."
    return {**act_card("confirm", text, 0.3, "H3", confirm), "live": "hot", "type": "yes"}


def _held(gate: Gate) -> dict[str, float | None]:
    return {cap.name: cap.volts for cap in gate.heavy}


def _hot_list(gate: Gate, condition: Condition, column: Column, volts: float | None) -> list[str]:
    return list(
        live_card_confirm(
            column.red,
            volts,
            black=column.black,
            capacitors=_held(gate),
            transformer_va=gate.kit.isolation,
            set_watts=gate.watts(condition.without),
        )
    )


def _cold_list(gate: Gate, column: Column, volts: float | None) -> list[str]:
    return [
        f"lid or shield over the mains side; {column.red} is on the isolated side, up to {volts or 0:.0f} V",
        f"the black lead is clipped on {column.black} before power; one hand, eyes shielded",
        *(f"{name} holds up to {v or 0:.0f} V, and keeps it after the plug is out" for name, v in _held(gate).items()),
        "I am competent and permitted to work on live equipment where I am; local law and codes decide",
    ]


def probe_of(gate: Gate, weighed: Weighed, proposal: Proposal) -> Card:
    """One probe of a round."""
    column = weighed.outlook.columns[proposal.column]
    alone = column.state == ALONE
    where = column.where
    black = gate.standing.black or own_blacks(gate.circuit).get(column.red)
    if column.part is None and " to " not in where and column.black != black:
        where = f"{column.red} to {column.black}"
    if alone:
        part = gate.circuit.part(column.part or "")
        pins = {net: pin for pin, net in part.pins.items()}
        where = column.where if column.where == part.ref else f"{part.ref}.{pins[column.red]} to {part.ref}.{pins[column.black]}"
    return {
        "red": column.red,
        "black": column.black,
        "where": where,
        "point": where,
        "lead": lead_of(gate, column.red, column.part, dead=not column.live),
        "black_lead": lead_of(gate, column.black, column.part, dead=not column.live),
        "red_pin": pin_at(gate, column.red, column.part),
        "black_pin": pin_at(gate, column.black, column.part),
        "function": column.function,
        "unit": column.unit,
        "part": column.part,
        "alone": alone,
        "healthy": list(proposal.healthy) if proposal.healthy else None,
        "outcomes": [
            {"range": [o.low, o.high], "means": ", ".join(p or "nothing wrong" for p, _ in o.means), "odds": round(o.chance, 3)}
            for o in proposal.outcomes
        ],
        "type": f"{where} ",
    }


def pin_at(gate: Gate, net: str, part: str | None = None) -> tuple[str, str] | None:
    """(part, pin) of a lead to touch at a net: the named part's own where it has one there, else the first that is not assumed, else any."""
    on = [(p.ref != part, p.assumed, len(p.pins), p.ref, pin) for p in gate.circuit.parts for pin, n in p.pins.items() if n == net]
    return min(on)[3:] if on else None


def lead_of(gate: Gate, net: str, part: str | None = None, *, dead: bool = False) -> str:
    """A lead to touch rather than a net, in words. dead: the plug is out, and its pins are what is touched."""
    at = pin_at(gate, net, part)
    if at is None:
        return net
    if dead and family_of(gate.circuit.part(at[0])).outlet:
        return f"{at[1]} pin of the plug, the set's own switch on"
    word = {"k": "banded end", "+": "plus", "-": "minus", "a": "first leg", "b": "other leg"}.get(at[1], at[1])
    return f"{word} of {at[0]}"


def round_card(
    gate: Gate,
    weighed: Weighed,
    chosen: Sequence[Proposal],
    why: str,
    *,
    others: Sequence[Proposal],
    condition: Condition | None = None,
    confirm: Sequence[str] = (),
) -> Card:
    """Readings to take in one go. condition: how the set is on for them, None: it isn't."""
    columns = [weighed.outlook.columns[p.column] for p in chosen]
    first = columns[0]
    volts = None if condition is None else gate.peaks(condition).get(first.red)
    level = hazard(first.red, volts, proven_cold=gate.side_is_cold(first), dead=condition is None)
    return {
        "kind": "round",
        "state": first.state,
        "function": first.function,
        "meter": METER_ON[first.function],
        "minutes": round(sum(p.price for p in chosen), 2),
        "why": why,
        "hazard": level,
        "caution": caution(first.red, volts, level, lead=lead_of(gate, first.red)),
        "probes": [probe_of(gate, weighed, p) for p in chosen],
        "others": [_other(gate, weighed, p) for p in others],
        "confirm": list(confirm),
    }


def _other(gate: Gate, weighed: Weighed, proposal: Proposal) -> Card:
    probe = probe_of(gate, weighed, proposal)
    column = weighed.outlook.columns[proposal.column]
    return {
        "text": f"{METER_ON[column.function]} {probe['where']} ({column.state}), {proposal.price:.1f} min",
        "type": probe["type"],
    }


def end_card(
    gate: Gate, weighed: Weighed, say: Verdict, table: Table, *, blocked: Sequence[NoGo], act: Proposal | None = None
) -> Card:
    """The end of the finding. Never cleared for power; a convicted part always comes with its open cause. act: the reading of a part
    alone that tells most for its minutes, though less than the minutes are thought worth."""
    rows = [table.suspects[i] for i in dict.fromkeys(weighed.suspect(row) for row in say.rows)]
    ways = [f"{r.row.part} {r.row.way}" for r in rows]
    cause: Card | None = None
    lines = [_two_faults(weighed, say) or _headline(say, gate), *_shared(weighed, say), *_beside(weighed, say), *_undrawn(weighed, say)]
    if act is not None and say.kind in ("group", "no reading helps", "nothing found"):
        lines.append(_act_text(weighed, act))
    if say.kind in ("convicted", "group") and say.parts:
        first = gate.circuit.part(say.parts[0])
        way = next((r.way for r in rows if r.part is not None and r.part.ref == first.ref), None)
        told = cause_text(first, way.name if way else "", kind=way.kind if way else "")
        cause = {"status": told.status, "killers": list(told.killers), "check": list(told.checks), "again": told.again}
        lines.append(told.text(first.ref))
        alive = killers_alive(weighed, say.rows)
        cause["alive"] = [{"part": part, "way": way, "odds": round(odds, 4)} for part, way, odds in alive]
        lines += _alive(first.ref, alive)
        gone = [ref for ref, rows in table.opened().items() if ref != first.ref and rows[[weighed.suspect(r) for r in say.rows]].all()]
        lines += [f"{', '.join(gone)} went with it: the same again, and only once the cause is cleared."] if gone else []
    if say.hangs_on is not None and say.hangs_on < len(weighed.taken):
        taken = weighed.taken[say.hangs_on]
        lines.append(f"This hangs on one reading: line {taken.line}, {taken.entry.where} {taken.entry.shown}. Take it once more.")
    if say.kind == "nothing found":
        lines += _outputs(gate, weighed)
    if say.kind in ("no reading helps", "nothing found", "group") and blocked:
        lines.append(f"Not switched on because: {blocked[0].reason}; {blocked[0].remedy}.")
    return {
        "kind": "end",
        "verdict": say.kind,
        "parts": list(say.parts),
        "ways": ways,
        "odds": round(say.odds, 4),
        "text": " ".join(lines),
        "cause": cause,
        "power": "not cleared for power",
    }


def _outputs(gate: Gate, weighed: Weighed, most: int = 3) -> list[str]:
    """What the outputs of a repaired set that is on should show and nobody has read since: on the proven cold side, volts across loads."""
    s = gate.standing
    if s.power != "on" or not s.fitted:
        return []
    since = max(line for line, _ in s.fitted)
    read = {frozenset((t.entry.red_net, t.entry.black_net)) for t in s.readings if t.line > since and t.power == "on"}
    ends = {frozenset(list(p.pins.values())[:2]) for p in gate.circuit.parts if family_of(p).visible}
    now, told = gate.condition().key, []
    for i, c in enumerate(weighed.outlook.columns[: weighed.open]):
        across = frozenset((c.red, c.black))
        if c.state == now and c.function == "v" and across in ends - read and gate.side_is_cold(c):
            band = healthy_band(weighed.outlook, weighed.post, i)
            if band is not None:
                told.append(f"{c.where} {band[0]:.3g} to {band[1]:.3g} V")
    return [f"Still to read before it is handed back: {', '.join(told[:most])}; then once more with its full load."] if told else []


def killers_alive(weighed: Weighed, rows: Sequence[int], most: int = 3) -> list[tuple[str, str, float]]:
    """(part, way, odds) of faults on this sheet that would put the convicted part to more than it stands, heaviest first: what has
    to be cleared before a new one is fitted. rows: the convicted ones."""
    kills, post = weighed.outlook.kills, weighed.post
    if kills is None:
        return []
    beside: dict[int, float] = {}
    for pair in post.pairs:
        for here, there in ((pair.a, pair.b), (pair.b, pair.a)):
            if here in rows:
                beside[there] = beside.get(there, 0.0) + pair.odds
    found = sorted({int(a) for r in rows for a in np.flatnonzero(kills[:, r] > kills[r])}, key=lambda a: -beside.get(a, 0.0))
    return [(post.rows[a].part, post.rows[a].way, beside.get(a, 0.0)) for a in found[:most]]


def _alive(ref: str, alive: Sequence[tuple[str, str, float]]) -> list[str]:
    if not alive:
        return []
    names = ", ".join(f"{part} {way} ({100 * odds:.0f} %)" if odds >= 0.005 else f"{part} {way}" for part, way, odds in alive)
    return [f"On this sheet {ref} is put to more than it stands by: {names}. Clear these by a reading first."]


def _shared(weighed: Weighed, say: Verdict) -> list[str]:
    """Odds of each part of a group, and how often its readings could be the first one's."""
    if not say.like:
        return []
    odds = weighed.post.part_odds
    each = [f"{p} {100 * odds.get(p, 0.0):.0f} %, reads like it {100 * s:.0f} %" for p, s in zip(say.parts, say.like, strict=True)]
    return [f"{say.parts[0]} {100 * odds.get(say.parts[0], 0.0):.0f} %; {'; '.join(each[1:])}."] if len(each) > 1 else []


def _act_text(weighed: Weighed, act: Proposal) -> str:
    """What lifting a leg would cost and tell."""
    column = weighed.outlook.columns[act.column]
    sides = [o for o in act.outcomes if o.chance > 0.02][:2]
    told = "; ".join(f"{100 * o.chance:.0f} % {'/'.join(p or 'nothing wrong' for p, _ in o.means[:2])}" for o in sides)
    return f"What tells most still: {column.part} out or a leg of it up, {column.function} {column.where}, {act.price:.0f} min: {told}."


def _beside(weighed: Weighed, say: Verdict) -> list[str]:
    """The second fault that likely stands beside a convicted part."""
    if say.kind != "convicted":
        return []
    others: dict[str, float] = {}
    for pair in weighed.post.pairs:
        ends = [weighed.post.rows[r] for r in (pair.a, pair.b)]
        for here, there in (ends, ends[::-1]):
            if here.part == say.parts[0]:
                name = f"{there.part} {there.way}"
                others[name] = others.get(name, 0.0) + pair.odds
    return [f"With {100 * odds:.0f} % {name} as well." for name, odds in others.items() if odds > ALSO]


def _undrawn(weighed: Weighed, say: Verdict) -> list[str]:
    """Where to trace, once the sheet can't explain what was read."""
    if say.kind != "not on the sheet" or not weighed.post.undrawn:
        return []
    places = [f"{u.place} ({100 * odds:.0f} %)" for u, odds in weighed.post.undrawn[:3] if odds > ALSO / 5]
    return [f"Look first from {', '.join(places)}: follow the copper, then ohms between, set dead."] if places else []


def _two_faults(weighed: Weighed, say: Verdict) -> str:
    """The headline where two drawn faults explain better than something undrawn does."""
    post = weighed.post
    if say.kind != "not on the sheet" or post.two_at_once <= post.not_on_sheet or not post.pairs:
        return ""
    pair = post.pairs[0]
    a, b = (pair.b, pair.a) if pair.root == pair.b else (pair.a, pair.b)
    names = [f"{post.rows[r].part} {post.rows[r].way}" for r in (a, b)]
    return f"Two faults: likeliest {names[0]} with {names[1]} ({100 * pair.odds:.0f} %). Test {post.rows[a].part} by itself first."


def _nothing_found(gate: Gate) -> str:
    """Nothing wrong is likeliest: what was fitted has mended it, as far as was read, or the fault hides."""
    fitted = ", ".join(dict.fromkeys(name for _, name in gate.standing.fitted))
    if fitted:
        return f"It reads like a healthy set since {fitted} was fitted; readings cannot see everything."
    return "Nothing found by these readings; they cannot see everything."


def _headline(say: Verdict, gate: Gate) -> str:
    names = ", ".join(say.parts)
    return {
        "convicted": f"Convicted: {names} ({100 * say.odds:.0f} %). Cause open.",
        "group": f"One of these, and no reading left tells them apart: {names}. Fit a known-good one of the cheapest first, after its causes are cleared.",
        "nothing found": _nothing_found(gate),
        "not on the sheet": "What is wrong is not on the sheet, or there are more than two faults: trace the nets whose readings nothing explains.",
    }.get(
        say.kind, f"No reading left is worth its minutes. Heaviest: {names or 'none'}. Lift a leg of it or fit a known-good one."
    )
