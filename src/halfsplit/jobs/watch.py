"""A fault that comes and goes and doesn't show: where to leave the meters clipped, so that its next failure tells most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfsplit.diagnosis.intermittent import while_failing
from halfsplit.diagnosis.outlook import Column
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.proposal import Prices, Proposal
from halfsplit.diagnosis.rounds import best_together
from halfsplit.diagnosis.verdict import Verdict
from halfsplit.jobs.cards import Card
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.provoke import worth_provoking
from halfsplit.jobs.safety import caution, hazard
from halfsplit.jobs.weigh import Weighed

METERS = 2
COMING = 0.3  # odds of what comes and goes from which on it is worth waiting for (bench estimate)
TELLS = 0.1  # bits under which a meter left clipped says nothing
WAITING = "the fault doesn't show: what the meters hold when it comes tells more than anything that can be read now"


def coming_odds(weighed: Weighed) -> float:
    """Odds that something comes and goes."""
    return 0.0 if weighed.coming is None else float(weighed.coming.coming(weighed.post.row_odds).sum())


def meters_to_leave(weighed: Weighed, available: Sequence[int], say: Verdict) -> tuple[Proposal, ...]:
    """One or two live readings that together split best what comes and goes, at the moment it fails; none where nothing does.
    available: columns that safety lets be read."""
    made, post = weighed.coming, weighed.post
    live = [i for i in available if weighed.outlook.columns[i].live and weighed.outlook.columns[i].function in ("v", "ac")]
    if made is None or not live or say.kind == "convicted" or coming_odds(weighed) < COMING:
        return ()
    failing = while_failing(made, live)
    waiting = _only_coming(post, made.comes)
    best = next_readings(failing, waiting, prices=Prices(), most=20)
    # Both meters wait in one state of the set: that of the reading worth most for its care.
    told = {
        p.column: p for p in best if p.gain >= TELLS and failing.columns[p.column].state == failing.columns[best[0].column].state
    }
    if not told:
        return ()
    chosen = best_together(failing, waiting, list(told), METERS, prices=Prices())
    return tuple(replace(told[k], column=live[k]) for k in chosen)


def _only_coming(post: Posterior, comes: np.ndarray) -> Posterior:
    """What is likely once the fault shows, and it is one that comes and goes."""
    odds = post.row_odds * comes
    return replace(
        post,
        readings=(),
        row_odds=odds / odds.sum(),
        not_on_sheet=0.0,
        two_at_once=0.0,
        pairs=(),
        in_pair=np.zeros_like(odds),
        doubts=(),
        undrawn=(),
    )


def watch_card(gate: Gate, weighed: Weighed, chosen: Sequence[Proposal], card: Card) -> Card:
    """The card with what makes it a wait: the leads stay clipped, and what is typed once it fails. card: the round, or the act before it."""
    columns = [weighed.outlook.columns[p.column] for p in chosen]
    clips = "; ".join(f"meter {k}: red on {c.red}, black on {c.black}" for k, c in enumerate(columns, 1))
    if card["kind"] != "round":
        live = card.get("do") in ("on", "confirm")
        text = f"Clip before power, and leave clipped: {clips}. {card['text']}" if live else card["text"]
        confirm = [*card.get("confirm", []), *(_each(gate, columns) if live else [])]
        return {**card, "watch": True, "text": text, "confirm": confirm}
    held = " with MIN/MAX on" if gate.kit.hold is not None else ""
    text = (
        f"Leave clipped{held} ({clips}; not clipped yet: `off` first) and use the set until it fails, never leaving it alone. "
        "Then type what they show, with `bad:` before it; so many good starts in a row: `cycles 20 ok`."
    )
    probes = [{**p, "type": f"bad: {p['type']}"} for p in card["probes"]]
    heavy = np.argsort(-weighed.coming.coming(weighed.post.row_odds))[:2] if weighed.coming is not None else ()
    parts = [gate.circuit.part(weighed.outlook.rows[i].part) for i in heavy if weighed.outlook.rows[i].part]
    return {**card, "watch": True, "text": text, "probes": probes, "others": worth_provoking(gate, parts), "why": WAITING}


def _each(gate: Gate, columns: Sequence[Column]) -> list[str]:
    """One line for every lead that stays clipped, and that somebody stays with it."""
    peaks = gate.peaks(gate.condition())
    lines = []
    for net in dict.fromkeys(net for c in columns for net in (c.red, c.black)):
        volts = peaks.get(net)
        level = hazard(net, volts, proven_cold=gate.side_of(net) == "cold", dead=False)
        lines.append(f"clipped with the plug out: {caution(net, volts, level)}")
    return [*lines, "somebody stays with the set as long as it is on"]


def cycles_text(weighed: Weighed, cycles: int) -> list[str]:
    """What so many good starts leave of it."""
    if not cycles or weighed.coming is None:
        return []
    times = "start" if cycles == 1 else "starts"
    return [f"after {cycles} good {times} the odds that it still comes and goes: {100 * coming_odds(weighed):.0f} %"]


__all__ = ["WAITING", "coming_odds", "cycles_text", "meters_to_leave", "watch_card"]
