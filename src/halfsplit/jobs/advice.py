"""What to say after a line: the lists, one doubt at most, and the next card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from halfsplit.diagnosis.build import Block
from halfsplit.diagnosis.columns import ALONE, DEAD, Condition
from halfsplit.diagnosis.outlook import Column
from halfsplit.diagnosis.planner import WORTH, next_readings
from halfsplit.diagnosis.proposal import Prices, Proposal, healthy_band
from halfsplit.diagnosis.rounds import MOST, round_of
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.diagnosis.verdict import verdict
from halfsplit.jobs.cards import Card, end_card, off_card, round_card
from halfsplit.jobs.coming import good_cycles
from halfsplit.jobs.entry_names import own_blacks
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.inject import costs_a_leg, injection_card
from halfsplit.jobs.isolation import claims_cold, ohms_read, spanning
from halfsplit.jobs.kit import Kit
from halfsplit.jobs.lists import block_list, cleared_list, doubt_of, found_list, pair_list, suspect_list, undrawn_list
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.other_starts import better_start
from halfsplit.jobs.safety import COLD_OHMS, Go, NoGo
from halfsplit.jobs.standing import Standing
from halfsplit.jobs.switch import switch_on
from halfsplit.jobs.table import Acts, Table
from halfsplit.jobs.tell import may_wait, start_card, tell_card
from halfsplit.jobs.twins import ALIVE
from halfsplit.jobs.watch import WAITING, coming_odds, cycles_text, meters_to_leave, watch_card
from halfsplit.jobs.way import in_time, sides_of, to_dead, way_there
from halfsplit.jobs.weigh import Weighed, weigh
from halfsplit.parts import family_of
from halfsplit.parts.base import Array

REFIT_MINUTES = 3.0
CYCLE_MINUTES = 2.0
DISCHARGE_MINUTES = 1.5
UNPLUG_MINUTES = 0.4  # to pull a load at its connector (bench estimate)
IN_DOUBT = 0.1  # odds from which a load is worth unplugging to see what is left (bench estimate)
SENSELESS = 0.5  # odds of something not on the sheet from which no value on it is asked for
TOO_DEAR = 0.02  # bits a minute under which a reading is not worth a hand (bench estimate: an hour for a bit)
MINUTES_A_BIT = 4.0  # what a bit costs a technician who picks his own readings (bench estimate)
WORTH_SPEAKING = 3.0  # minutes that a reading of ours must save before it is said unasked
BY_BENCH = "the bench supply is on, but not how much on which net: readings are logged, not weighed"


@dataclass
class Advice:
    """Plain data for one answer. odds (rows,): of every explanation, for the safety gates. rate: bits a minute of the next reading."""

    card: dict[str, Any]
    suspects: list[dict[str, Any]] = field(default_factory=list)
    pairs: list[dict[str, Any]] = field(default_factory=list)
    found: list[dict[str, Any]] = field(default_factory=list)
    cleared: list[dict[str, Any]] = field(default_factory=list)
    doubt: dict[str, Any] | None = None
    warn: list[str] = field(default_factory=list)
    nothing_wrong: float = 0.0
    not_on_sheet: float = 0.0
    undrawn: list[dict[str, Any]] = field(default_factory=list)
    blocks: list[dict[str, Any]] = field(default_factory=list)
    comes_and_goes: float | None = None  # odds that something does; None in a job that has no word of such
    odds: Array | None = None
    speak: bool = True
    rate: float = 0.0
    weighed: Weighed | None = None


def prior_odds(suspects: Sequence[Suspect]) -> Array:
    """What is likely before anything was read (rows,)."""
    priors = np.array([s.row.prior for s in suspects])
    return np.asarray(priors / priors.sum())


def advise(
    s: Standing, table: Table, kit: Kit, now: float, asked: set[str], traced: set[str], log: Sequence[LogLine] = ()
) -> Advice:
    """The whole answer for how the job stands. asked: doubts that were asked about already, traced: things to look at; both grow.
    log: for the other sheets."""
    if not s.readings and s.power != "on":
        odds = prior_odds(table.suspects)
        gate = Gate(s, table, kit, odds, now)
        if s.power == "unknown" or not gate.dead_sides():
            card = off_card() if s.power == "unknown" else to_dead(gate, gate.sides)
            warn = [BY_BENCH] if s.power == "bench" and s.fed is None else []
            return Advice(card, suspect_list(table, odds), odds=odds, nothing_wrong=float(odds[0]), warn=warn)
    odds = prior_odds(table.heard())
    blocks = all_blocks(table, s, Gate(s, table, kit, odds, now).to_unplug())
    weighed = weigh(s, table, kit, blocks)
    load = load_in_doubt(table, s, weighed.odds)
    if load is not None:
        weighed = weigh(s, table, kit, [*blocks, table.cold(s.unplugged | {load}, s.acts.fresh, s.dummy)])
    post = weighed.post
    singles = weighed.odds
    out = Advice(
        card={},
        suspects=suspect_list(table, singles),
        pairs=pair_list(post),
        found=found_list(weighed, own_blacks(table.circuit)),
        odds=weighed.safe_odds,
        cleared=cleared_list(table, weighed, odds),
        nothing_wrong=post.nothing_wrong,
        not_on_sheet=post.not_on_sheet,
        undrawn=undrawn_list(post),
        blocks=block_list(table, singles, post),
        comes_and_goes=None if weighed.coming is None else coming_odds(weighed),
        warn=[
            *weighed.unread,
            *([ALIVE] if s.twin else []),
            *cycles_text(weighed, good_cycles(s)),
            *([BY_BENCH] if s.power == "bench" and s.fed is None else []),
        ],
        doubt=doubt_of(weighed, asked, s.last),
    )
    better = better_start(s, weighed, log, table.progress) if log else None
    if better:
        out.warn.append(better.text())
    gate = Gate(s, table, kit, weighed.safe_odds, now)
    out.card = next_card(s, table, gate, weighed, out)
    if costs_a_leg(out.card):
        out.card = injection_card(gate, weighed, traced) or out.card
    out.weighed = weighed
    # before anything was read the first thing is which side is isolated
    if s.power != "on" and may_wait(out.card) and (s.readings or not out.card.get("confirm")):
        # what a drawing that explains nothing would save by a value on it is no number
        known = better is None and post.not_on_sheet < SENSELESS
        ask = start_card(better.line, better.text(), traced) if better else tell_card(weighed, table, out.rate, traced) if known else None
        out.card = ask or out.card
    return out


def all_blocks(table: Table, s: Standing, without: frozenset[str] = frozenset()) -> list[Block]:
    """Cold, alone and every powered condition; without: loads that are or will be unplugged for it."""
    live = [table.live(c) for c in table.conditions(s.lamp, without, s.dummy) if c.powered]
    fed = table.fed(fed_so(s)) if s.power == "bench" and s.fed is not None and not s.acts.refs else []
    return [table.cold(s.unplugged, s.acts.fresh, s.dummy), table.alone(s.acts.fresh), *live, *fed]


def fed_so(s: Standing) -> Condition:
    """The set as the bench supply feeds it now."""
    return Condition(True, without=s.unplugged, fed=s.fed, dummy=s.dummy)


def load_in_doubt(table: Table, s: Standing, odds: Array) -> str | None:
    """The likeliest load at a connector that is suspected beside others: without it the rest reads by itself. None while the set is on,
    before anything was read, or where it is as good as settled."""
    if s.power == "on" or not s.readings or s.acts.refs:
        return None
    each: dict[str, float] = {}
    for suspect, p in zip(table.suspects, odds, strict=True):
        if suspect.part is not None and family_of(suspect.part).visible and suspect.part.ref not in s.unplugged:
            each[suspect.part.ref] = each.get(suspect.part.ref, 0.0) + float(p)
    load = max(each, key=lambda ref: each[ref], default=None)
    return load if load is not None and IN_DOUBT <= each[load] <= 1.0 - IN_DOUBT else None


# ---- the card


def state_now(s: Standing, gate: Gate) -> str:
    """Key of the state that readings would be taken in now."""
    if s.power == "on":
        return gate.condition().key
    if s.power == "bench" and s.fed is not None:
        return fed_so(s).key
    if gate.is_dead():
        return ALONE if s.acts.refs else s.unpowered.key
    return "unplugged"


def prices_of(s: Standing, gate: Gate, columns: Sequence[Column]) -> Prices:
    """What it takes to get to each state from here."""
    now = state_now(s, gate)
    to_dead_minutes = 0.0 if now.startswith((DEAD, ALONE)) else DISCHARGE_MINUTES
    refit = REFIT_MINUTES if s.acts.refs else 0.0
    change = {}
    for state in {c.state for c in columns}:
        if state.startswith(DEAD):
            change[state] = to_dead_minutes + refit + (UNPLUG_MINUTES if state != s.unpowered.key else 0.0)
        elif state == ALONE:
            change[state] = to_dead_minutes + REFIT_MINUTES
        else:
            change[state] = 0.0 if state == now else 0.2 if s.power == "on" else CYCLE_MINUTES + refit
    return Prices(now=now, change=change)


def next_card(s: Standing, table: Table, gate: Gate, weighed: Weighed, out: Advice) -> Card:
    """The next thing to do."""
    outlook, post = weighed.outlook, weighed.post
    powered = [c for c in table.conditions(s.lamp, gate.to_unplug(), s.dummy) if c.powered]
    answers = _switching(s, gate, powered)
    if s.power == "bench" and s.fed is not None:
        powered, answers = [*powered, fed_so(s)], {**answers, fed_so(s).key: Go()}
    go_on = {key: bool(answer) for key, answer in answers.items()}
    available = [i for i in gate.allowed(outlook.columns, powered, go_on) if _reachable(s, outlook.columns[i])]
    available = _once([i for i in available if i < weighed.open], outlook.columns)
    insulation = _insulation(gate, outlook.columns)
    if insulation and gate.is_dead():
        found = tuple(Proposal(c, 0.0, 0.25, healthy_band(outlook, post, c), ()) for c in insulation)
        why = "proves which side is isolated: until then every net counts as live"
        return _round_or_way(gate, weighed, found, powered, why=why, others=(), confirm=_by_eye(gate))
    prices = prices_of(s, gate, outlook.columns)
    proposals = next_readings(outlook, post, prices=prices, available=available, most=MOST)
    out.rate = proposals[0].rate if proposals else 0.0
    act = None
    if proposals and proposals[0].rate < TOO_DEAR:
        act = next((p for p in proposals if outlook.columns[p.column].state == ALONE and p.gain >= WORTH), None)
        proposals = ()
    out.speak = _speaks(s, out, proposals)
    say = verdict(outlook, post, proposals, available=available)
    chosen = round_of(outlook, post, prices=prices, found=proposals) if say.kind == "go on" and proposals else ()
    if not chosen:
        two = meters_to_leave(weighed, available, say) if s.mark != "bad" else ()
        if two:
            card = _round_or_way(gate, weighed, two, powered, why=WAITING, others=())
            return watch_card(gate, weighed, two, card)
        blocked = [a for a in answers.values() if isinstance(a, NoGo)]
        return end_card(gate, weighed, say, table, blocked=blocked, act=act)
    chosen = _same_part(chosen, outlook.columns)
    return _round_or_way(gate, weighed, chosen, powered, why=reason_of(chosen[0], post.part_odds), others=proposals[1:4])


def _switching(s: Standing, gate: Gate, powered: Sequence[Condition]) -> dict[str, Go | NoGo]:
    """Whether each condition may be switched on; what is off the board or fed now is put right first, and that is priced."""
    whole = replace(gate, standing=replace(s, acts=Acts(fresh=s.acts.fresh), power="unplugged" if s.power == "bench" else s.power))
    return {c.key: switch_on(whole, c) if s.power != "on" or c.pressed - s.pressed else Go() for c in powered}


def _round_or_way(
    gate: Gate,
    weighed: Weighed,
    chosen: Sequence[Proposal],
    powered: Sequence[Condition],
    *,
    why: str,
    others: Sequence[Proposal],
    confirm: Sequence[str] = (),
) -> Card:
    """The round itself if all of it may be read now, or what has to be done first."""
    columns = weighed.outlook.columns
    dead = gate.dead_sides()
    if not columns[chosen[0].column].live and sides_of(gate, [columns[chosen[0].column]]) <= dead:
        chosen = [p for p in chosen if sides_of(gate, [columns[p.column]]) <= dead]  # the other side is not worth a discharge yet
    read = [columns[p.column] for p in chosen]
    way = way_there(gate, read, powered)
    if way is not None:
        return way
    condition = next(c for c in powered if c.key == read[0].state) if read[0].live else None
    chosen = chosen if read[0].live else chosen[: in_time(gate, read)]
    chosen = [p for p in chosen if gate.may_propose(columns[p.column], condition)]
    if not chosen:
        return to_dead(gate, gate.sides)  # what cannot be said to be safe is not shown
    return round_card(gate, weighed, chosen, why, others=others, condition=condition, confirm=confirm)


def _speaks(s: Standing, out: Advice, proposals: Sequence[Proposal]) -> bool:
    """While he reads what he likes: speak on a contradiction, or when our own reading saves three minutes or more."""
    if not s.follow or out.doubt is not None or out.warn:
        return True
    return bool(proposals) and proposals[0].gain * MINUTES_A_BIT - proposals[0].price >= WORTH_SPEAKING


def _reachable(s: Standing, column: Column) -> bool:
    """With parts off the board, only these are read alone; everything else waits for the refit (which is priced)."""
    return column.state != ALONE or not s.acts.refs or column.part in s.acts.refs


def _once(available: Sequence[int], columns: Sequence[Column]) -> list[int]:
    """Each place once: what was read there before a part was fitted stands as a column of its own."""
    first: dict[tuple[str, ...], int] = {}
    for i in available:
        c = columns[i]
        first.setdefault((c.state, c.function, c.red, c.black, c.part or "" if c.state == ALONE else ""), i)
    return list(first.values())


def _same_part(chosen: Sequence[Proposal], columns: Sequence[Column]) -> tuple[Proposal, ...]:
    """Readings of a part alone come one part at a time."""
    first = columns[chosen[0].column]
    if first.state != ALONE:
        return tuple(chosen)
    return tuple(p for p in chosen if columns[p.column].part == first.part)


def _insulation(gate: Gate, columns: Sequence[Column]) -> list[int]:
    """Columns that still have to be read before the cold side counts."""
    if not claims_cold(gate.circuit) or gate.isolated:
        return []
    have, now = ohms_read(gate.standing, gate.circuit), gate.standing.unpowered.key
    cold = gate.circuit.grounds["cold"]
    if any(v <= COLD_OHMS for v in have.values()):
        return []
    return [
        i
        for i, c in enumerate(columns)
        if c.state == now and c.function == "r" and c.black == cold and c.red in ("L", "N") and c.red not in have
    ]


def _by_eye(gate: Gate) -> list[str]:
    return [
        f"by eye: nothing but {', '.join(spanning(gate.circuit))} reaches across the gap",
        "this shows topology, not the strength of the insulation",
    ]


def reason_of(first: Proposal, part_odds: dict[str, float]) -> str:
    """One sentence: what the reading splits."""
    likely = [o for o in first.outcomes if o.chance > 0.02]
    sides = "; ".join(f"{100 * o.chance:.0f} % {'/'.join(p or 'nothing wrong' for p, _ in o.means[:2])}" for o in likely[:3])
    return (
        f"splits the suspects for {first.price:.1f} min: {sides}"
        if sides
        else f"worth {first.gain:.2f} bit for {first.price:.1f} min"
    )


__all__ = ["Advice", "advise", "all_blocks"]
