"""What to say after a line: found against expected, suspects, what is cleared, one doubt at most, and the next card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.build import Block
from halfsplit.diagnosis.columns import ALONE, DEAD, Condition
from halfsplit.diagnosis.outlook import Column
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.proposal import Prices, Proposal, healthy_band
from halfsplit.diagnosis.rounds import round_of
from halfsplit.diagnosis.verdict import Verdict, verdict
from halfsplit.errors import InputError
from halfsplit.jobs.cards import act_card, dead_card, end_card, off_card, on_card, round_card
from halfsplit.jobs.fold import Standing
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.kit import Kit
from halfsplit.jobs.safety import NoGo
from halfsplit.jobs.table import Acts, Table
from halfsplit.jobs.weigh import Weighed, weigh

REFIT_MINUTES = 3.0
CYCLE_MINUTES = 2.0
DISCHARGE_MINUTES = 1.5
TOO_DEAR = 0.02  # bits a minute under which a reading is not worth a hand (bench estimate: an hour for a bit)
CLEAR = 0.002  # odds under which a part is called cleared
ASK_ABOUT = 0.25  # odds of a bench mistake above which it is asked about first


@dataclass
class Advice:
    """Plain data for one answer. odds (rows,): of every explanation, for the safety gates."""

    card: dict[str, Any]
    suspects: list[dict[str, Any]] = field(default_factory=list)
    found: list[dict[str, Any]] = field(default_factory=list)
    cleared: list[dict[str, Any]] = field(default_factory=list)
    doubt: dict[str, Any] | None = None
    warn: list[str] = field(default_factory=list)
    nothing_wrong: float = 0.0
    not_on_sheet: float = 0.0
    odds: np.ndarray | None = None
    speak: bool = True


def advise(s: Standing, table: Table, kit: Kit, now: float, asked: set[str]) -> Advice:
    """The whole answer for how the job stands."""
    priors = np.array([x.row.prior for x in table.suspects])
    odds = priors / priors.sum()
    if not s.readings and not s.looks and s.power == "unknown":
        return Advice(card=off_card(), suspects=suspect_list(table, odds), odds=odds, nothing_wrong=float(odds[0]))
    if not s.readings and s.power != "on" and not Gate(s, table, kit, odds, now).is_dead():
        gate = Gate(s, table, kit, odds, now)
        card = off_card() if s.power == "unknown" else dead_card(gate)
        return Advice(card=card, suspects=suspect_list(table, odds), odds=odds, nothing_wrong=float(odds[0]))
    priors = np.array([x.row.prior for x in table.heard()])
    odds = priors / priors.sum()
    blocks = all_blocks(table, s, Gate(s, table, kit, odds, now).to_unplug())
    weighed = weigh(s, table, kit, blocks)
    post = weighed.post
    gate = Gate(s, table, kit, post.row_odds, now)
    out = Advice(
        card={},
        suspects=suspect_list(table, post.row_odds),
        found=found_list(weighed),
        odds=post.row_odds,
        cleared=cleared_list(table, post.row_odds, odds),
        nothing_wrong=post.nothing_wrong,
        not_on_sheet=post.not_on_sheet,
        warn=list(weighed.unread),
    )
    out.doubt = doubt_of(weighed, asked)
    out.card = next_card(s, table, gate, weighed, out)
    return out


def all_blocks(table: Table, s: Standing, without: frozenset[str] = frozenset()) -> list[Block]:
    """Cold, alone and every powered condition; without: loads that are or will be unplugged for it."""
    live = [table.live(c) for c in table.conditions(s.lamp, without) if c.powered]
    return [table.cold(s.unplugged), table.alone(), *live]


# ---- lists


def suspect_list(table: Table, odds: np.ndarray, most: int = 8) -> list[dict[str, Any]]:
    """The heaviest suspects with odds and reason."""
    order = [i for i in np.argsort(-odds) if table.suspects[i].part is not None][:most]
    return [
        {
            "part": table.suspects[i].row.part,
            "way": table.suspects[i].row.way,
            "odds": round(float(odds[i]), 4),
            "why": table.suspects[i].row.why,
        }
        for i in order
        if odds[i] > 1e-4
    ]


def found_list(weighed: Weighed) -> list[dict[str, Any]]:
    """Every reading against what a healthy set would show."""
    out = []
    for reading, taken in zip(weighed.post.readings, weighed.taken, strict=True):
        column = weighed.outlook.columns[reading.column]
        band = healthy_band(weighed.outlook, weighed.post, reading.column)
        word = "noted"
        if band is not None:
            low, high = band
            word = (
                "fits"
                if low <= reading.value <= high
                else ("open" if np.isinf(reading.value) else ("low" if reading.value < low else "high"))
            )
        out.append(
            {
                "line": taken.line,
                "where": taken.entry.where,
                "function": column.function,
                "value": reading.value,
                "unit": column.unit,
                "expected": None if band is None else list(band),
                "verdict": word,
            }
        )
    return out


def cleared_list(table: Table, odds: np.ndarray, prior: np.ndarray) -> list[dict[str, Any]]:
    """Parts that the readings have cleared, by side."""
    now: dict[str, float] = {}
    before: dict[str, float] = {}
    for i, suspect in enumerate(table.suspects):
        if suspect.part is not None:
            now[suspect.part.ref] = now.get(suspect.part.ref, 0.0) + float(odds[i])
            before[suspect.part.ref] = before.get(suspect.part.ref, 0.0) + float(prior[i])
    islands = islands_of(table.circuit)
    sides: dict[str, list[str]] = {}
    for part in table.circuit.parts:
        if part.ref in now and now[part.ref] < CLEAR and now[part.ref] < 0.3 * before[part.ref]:
            cold = sum(islands.get(n) == "cold" for n in part.pins.values()) * 2 > len(part.pins)
            sides.setdefault("isolated side" if cold else "mains side", []).append(part.ref)
    return [{"block": side, "parts": parts} for side, parts in sides.items()]


def doubt_of(weighed: Weighed, asked: set[str]) -> dict[str, Any] | None:
    """One question at most: the mistake that most often explains, or the one reading that nothing else agrees with."""
    post = weighed.post
    if post.doubts and post.mistaken > ASK_ABOUT:
        doubt = post.doubts[0]
        line = weighed.taken[doubt.readings[0]].line
        if f"{doubt.name}:{line}" not in asked:
            asked.add(f"{doubt.name}:{line}")
            return {"ask": doubt.ask, "line": line, "type": {"yes": f"no {line}", "no": ""}}
    if len(post.readings) < 3 or not len(post.row_odds):
        return None
    best = int(np.argmax(post.row_odds))
    for j, taken in enumerate(weighed.taken):
        top = float(post.g[:, j].max())
        if post.row_odds[best] > 0.3 and float(post.g[best, j]) < 0.01 * top and f"slip:{taken.line}" not in asked:
            asked.add(f"slip:{taken.line}")
            return {
                "ask": f"line {taken.line}, {taken.entry.where} {taken.entry.shown}, agrees with nothing else: read it again?",
                "line": taken.line,
                "type": {"yes": f"no {taken.line}", "no": ""},
            }
    return None


# ---- the card


def state_now(s: Standing, gate: Gate) -> str:
    """Key of the state that readings would be taken in now."""
    if s.power == "on":
        return Condition(True, s.pressed, s.lamp, s.unplugged).key
    if gate.is_dead():
        return ALONE if s.acts.refs else Condition(False, without=s.unplugged).key
    return "unplugged"


def prices_of(s: Standing, gate: Gate, columns: Sequence[Column]) -> Prices:
    """What it takes to get to each state from here."""
    now = state_now(s, gate)
    to_dead = 0.0 if now.startswith((DEAD, ALONE)) else DISCHARGE_MINUTES
    refit = REFIT_MINUTES if s.acts.refs else 0.0
    change = {}
    for state in {c.state for c in columns}:
        if state.startswith(DEAD):
            change[state] = to_dead + refit
        elif state == ALONE:
            change[state] = to_dead + REFIT_MINUTES
        else:
            change[state] = 0.2 if s.power == "on" else CYCLE_MINUTES + refit
    return Prices(now=now, change=change)


def next_card(s: Standing, table: Table, gate: Gate, weighed: Weighed, out: Advice) -> dict[str, Any]:
    """The next thing to do."""
    outlook, post = weighed.outlook, weighed.post
    powered = [c for c in table.conditions(s.lamp, gate.to_unplug()) if c.powered]
    whole = replace(gate, standing=replace(s, acts=Acts()))  # what is off the board is refitted first, and that is priced
    answers = {c.key: whole.switch_on(c) if s.power != "on" or c.pressed - s.pressed else _running(gate, c) for c in powered}
    go_on = {key: bool(answer) for key, answer in answers.items()}
    peaks = {c.key: table.peak_volts(c, post.row_odds) for c in powered}
    available = [i for i in gate.allowed(outlook.columns, peaks, go_on) if _reachable(s, outlook.columns[i], gate)]
    prices = prices_of(s, gate, outlook.columns)
    insulation = _insulation(gate, outlook.columns, post)
    if insulation and gate.is_dead():
        found = tuple(Proposal(c, 0.0, 0.25, healthy_band(outlook, post, c), ()) for c in insulation)
        return _named_by_eye(
            round_card(gate, weighed, found, "proves which side is isolated: until then every net counts as live", others=()),
            gate,
        )
    proposals = next_readings(outlook, post, prices=prices, available=available)
    if proposals and proposals[0].rate < TOO_DEAR:
        proposals = ()
    out.speak = _speaks(s, out, proposals)
    say: Verdict = verdict(outlook, post, proposals, available=available)
    if say.kind != "go on":
        return end_card(gate, weighed, say, table, blocked=[a for a in answers.values() if isinstance(a, NoGo)])
    if not proposals:
        return end_card(gate, weighed, say, table, blocked=[a for a in answers.values() if isinstance(a, NoGo)])
    chosen = round_of(outlook, post, prices=prices, available=available)
    if not chosen:
        return end_card(gate, weighed, say, table, blocked=[a for a in answers.values() if isinstance(a, NoGo)])
    chosen = _same_part(chosen, outlook.columns)
    first = outlook.columns[chosen[0].column]
    way = _way_there(s, gate, first, table)
    if way is not None:
        return way
    return round_card(gate, weighed, chosen, reason_of(chosen[0], post.part_odds), others=proposals[1:4])


MINUTES_A_BIT = 4.0  # what a bit costs a technician who picks his own readings (bench estimate)
WORTH_SPEAKING = 3.0  # minutes that a reading of ours must save before it is said unasked


def _speaks(s: Standing, out: Advice, proposals: Sequence[Proposal]) -> bool:
    """While he reads what he likes: speak on a contradiction, or when our own reading saves three minutes or more."""
    if not s.follow or out.doubt is not None or out.warn:
        return True
    return bool(proposals) and proposals[0].gain * MINUTES_A_BIT - proposals[0].price >= WORTH_SPEAKING


def _running(gate: Gate, condition: Condition) -> Any:
    from halfsplit.jobs.safety import Go

    return Go()


def _reachable(s: Standing, column: Column, gate: Gate) -> bool:
    """With parts off the board, only these are read alone; everything else waits for the refit (which is priced)."""
    if column.state == ALONE and s.acts.refs:
        return column.part in s.acts.refs
    return True


def _same_part(chosen: Sequence[Proposal], columns: Sequence[Column]) -> tuple[Proposal, ...]:
    """Readings of a part alone come one part at a time."""
    first = columns[chosen[0].column]
    if first.state != ALONE:
        return tuple(chosen)
    return tuple(p for p in chosen if columns[p.column].part == first.part)


def _insulation(gate: Gate, columns: Sequence[Column], post: Any) -> list[int]:
    """Columns that still have to be read before the cold side counts."""
    if not gate.claims_cold() or gate.cold_proven():
        return []
    have = gate.cold_proof()
    cold = gate.circuit.grounds["cold"]
    if any(v <= 1e6 for v in have.values()):
        return []
    return [
        i
        for i, c in enumerate(columns)
        if c.state.startswith(DEAD) and c.function == "r" and c.black == cold and c.red in ("L", "N") and c.red not in have
    ]


def _named_by_eye(card: dict[str, Any], gate: Gate) -> dict[str, Any]:
    from halfsplit.jobs.safety import boundary_parts

    parts = boundary_parts(gate.circuit, gate.circuit.cold_claims)
    return {
        **card,
        "confirm": [
            f"by eye: nothing but {', '.join(parts)} reaches across the gap",
            "this shows topology, not the strength of the insulation",
        ],
    }


def reason_of(first: Proposal, part_odds: dict[str, float]) -> str:
    """One sentence: what the reading splits."""
    likely = [o for o in first.outcomes if o.chance > 0.02]
    sides = "; ".join(f"{100 * o.chance:.0f} % {'/'.join(p or 'nothing wrong' for p, _ in o.means[:2])}" for o in likely[:3])
    return (
        f"splits the suspects for {first.price:.1f} min: {sides}"
        if sides
        else f"worth {first.gain:.2f} bit for {first.price:.1f} min"
    )


def _way_there(s: Standing, gate: Gate, column: Column, table: Table) -> dict[str, Any] | None:
    """The act that comes before the reading, if any."""
    if column.live:
        wanted = next(c for c in table.conditions(s.lamp, gate.to_unplug()) if c.key == column.state)
        for load in sorted(wanted.without - s.unplugged):
            if s.power == "on":
                return off_card()
            return act_card(
                f"unplug {load}", f"unplug {load} at its connector: the rest then fits on the isolation transformer", 0.4, "H0"
            )
        if s.acts.refs:
            return act_card(f"refit {s.acts.refs[0]}", f"refit {s.acts.refs[0]} before power", 3.0, "H0")
        if s.power != "on":
            return on_card(gate, Condition(True, s.pressed & wanted.pressed, s.lamp, s.unplugged), column)
        if wanted.pressed - s.pressed:
            word = sorted(wanted.pressed - s.pressed)[0]
            return act_card(f"press {word}", f"press {word} and keep it so", 0.2, "H3")
        if s.pressed - wanted.pressed:
            word = sorted(s.pressed - wanted.pressed)[0]
            return act_card(f"release {word}", f"release {word}", 0.2, "H3")
        return None
    if s.power in ("on", "unknown"):
        return off_card()
    if not gate.is_dead():
        return dead_card(gate)
    if column.state == ALONE and column.part not in s.acts.refs:
        return _off_the_board(s, gate, column)
    if column.state.startswith(DEAD) and s.acts.refs:
        return act_card(f"refit {s.acts.refs[0]}", f"refit {s.acts.refs[0]}", 3.0, "H0")
    return None


def _off_the_board(s: Standing, gate: Gate, column: Column) -> dict[str, Any]:
    if s.acts.refs:
        return act_card(f"refit {s.acts.refs[0]}", f"refit {s.acts.refs[0]} first", 3.0, "H0")
    part = gate.circuit.part(column.part or "")
    if len(part.pins) == 2:
        pin = next(iter(part.pins))
        return act_card(f"lift {part.ref}.{pin}", f"lift one leg of {part.ref}: in circuit its neighbours hide it", 3.0, "H0")
    return act_card(
        f"remove {part.ref}",
        f"take {part.ref} off the board: in circuit its neighbours hide it",
        3.0 + 0.5 * len(part.pins),
        "H0",
    )


def island_word(circuit: Circuit, net: str) -> str:
    """Which side a net is on."""
    return islands_of(circuit).get(net, "hot")


__all__ = ["Advice", "InputError", "advise"]
