"""What a line may not say as things stand: each refusal names the place and what to do instead. Nothing is logged by it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from halfsplit.circuit.model import Circuit
from halfsplit.circuit.sheet import Item, read_unit
from halfsplit.diagnosis.dummy import DUMMY
from halfsplit.errors import EntryError, Refused
from halfsplit.jobs.entry import (
    ActEntry,
    CyclesEntry,
    Entry,
    ProvokeEntry,
    ReadingEntry,
    SameEntry,
    SheetEntry,
    StateEntry,
    WaiveEntry,
)
from halfsplit.jobs.fold import dummy_of, step
from halfsplit.jobs.gate import Gate, is_protector
from halfsplit.jobs.provoke import may_provoke
from halfsplit.jobs.refusals import check_act, refuse_unit
from halfsplit.jobs.safety import COLD_FUNCTIONS, DEAD_VOLTS, NoGo
from halfsplit.jobs.standing import Standing
from halfsplit.jobs.switch import bench_supply, damage, switch_on

NOT_STARTED = "first say what it is: unit, symptom and start, a line each"


@dataclass(frozen=True)
class Moment:
    """How the job stands when a line comes. card: on show. gate: makes the gates, which may have to solve first.

    cleared: words of refused equipment that were said not to be meant.
    """

    standing: Standing
    card: Mapping[str, Any]
    gate: Callable[[], Gate]
    cleared: frozenset[str] = frozenset()


def check(entry: Entry, at: Moment) -> None:
    """Refuse what may not be done or read as things stand. Raises InputError (EntryError, Refused)."""
    s = at.standing
    if isinstance(entry, SheetEntry) and entry.key == "unit":
        _check_unit(entry.words, at)
    if s.circuit is None and isinstance(entry, (StateEntry, ActEntry, ReadingEntry, WaiveEntry, ProvokeEntry, CyclesEntry)):
        raise EntryError(NOT_STARTED)
    if isinstance(entry, ActEntry) and s.circuit is not None:
        check_act(entry.text, s.circuit, is_protector)
        if s.power in ("on", "bench"):
            raise Refused(f"{entry.act}: the set is {s.power}; pull the plug, say `off`, then prove it dead")
        if entry.act == "dummy" and entry.ohms is not None:
            _check_dummy(entry, s.circuit, at)
    if isinstance(entry, ProvokeEntry):
        answer = may_provoke(at.gate(), entry)
        if isinstance(answer, NoGo):
            raise Refused(f"{entry.how}: {answer}")
    if isinstance(entry, ReadingEntry):
        _check_reading(entry, at)
    if isinstance(entry, SameEntry):
        if not s.last_read:
            raise EntryError("same as what? nothing was read yet")
        _check_reading(s.last_read[-1].entry, at)
    if isinstance(entry, StateEntry) and entry.kind in STATES:
        STATES[entry.kind](entry, at)


def _check_dummy(entry: ActEntry, circuit: Circuit, at: Moment) -> None:
    """Hands go to a hot output only once it is proven dead, and the resistor has to bear what any heavy explanation puts on it."""
    dummy, gate = dummy_of(circuit, entry), at.gate()
    sides = {gate.side_of(net) for net in (dummy.run.plus, dummy.run.minus)}
    if "hot" in sides and not sides <= gate.dead_sides():
        caps = gate.named(sides - gate.dead_sides())
        raise Refused(f"dummy: {dummy.run.plus} is on the mains side and not proven dead: `{gate.dead_line(caps)}` with the volts read there")
    then = replace(gate, standing=step(at.standing, entry, 0, gate.now))
    over = [d for d in damage(then, then.condition()) if d.part == DUMMY]
    if over:
        worst = max(over, key=lambda d: math.inf if d.stress is None else d.stress)
        put = "nobody knows how many" if worst.stress is None else f"{worst.stress:.3g}"
        raise Refused(f"dummy: it would take {put} W of its {dummy.watts:g} W with {worst.row}; take one of more watts or ohms, or read cold")


def _check_unit(words: str, at: Moment) -> None:
    unit = read_unit(Item(words, 1, 1, "unit"))
    ask = refuse_unit(unit.words, unit.volts, unit.watts, cleared=at.cleared)
    if ask is not None:
        raise Refused(f"{ask.question} Write the unit without the word if it isn't one.")


def _check_reading(entry: ReadingEntry, at: Moment) -> None:
    """Ohms and the like only where safety lets them; volts that were read already are data, whatever they were read on."""
    if entry.function is None:
        raise EntryError(
            f"{entry.shown}: ohms or diode test? write `{entry.where} {entry.shown} r` or `... d`; with volts the set has to be on"
        )
    if entry.function == "a":
        raise Refused("current in series is never read here; read the volts across a known resistor and divide")
    if entry.function in COLD_FUNCTIONS:
        answer = at.gate().may_take(entry)
        if isinstance(answer, NoGo):
            raise Refused(f"{entry.where}: {answer}")


def _check_on(entry: StateEntry, at: Moment) -> None:
    gate = at.gate()
    convicted = at.card.get("parts", ()) if at.card.get("verdict") == "convicted" else ()
    answer = switch_on(gate, gate.condition(), convicted)
    if isinstance(answer, NoGo):
        waive = "; write it like `waive A. Person: owner saw the surge`" if "cause of" in answer.reason else ""
        raise Refused(f"not on: {answer}{waive}")


def _check_dead(entry: StateEntry, at: Moment) -> None:
    """The proof as the log would have it with this line; what proves nothing and waits for nothing is refused."""
    if at.standing.power == "on":
        raise Refused("the set is on; pull the plug and say `off` first")
    high = [(n, v) for n, v in entry.dead if abs(v) >= DEAD_VOLTS]
    if high:
        raise Refused(
            f"{high[0][0]} holds {high[0][1]:g} V; discharge it through the tool and read again; under {DEAD_VOLTS:g} V is wanted"
        )
    now = at.gate()
    then = replace(now, standing=step(at.standing, entry, 0, now.now))
    answers = then.power.answers
    made_good = then.dead_sides() if entry.after is not None else frozenset()
    if any(answer or then.waiting({side}) or side in made_good for side, answer in answers.items()):
        return
    told = next((str(a) for a in answers.values()), "no volts were said")
    raise Refused(f"not dead: {told}. In full: `{now.dead_line(now.named(now.sides))}` with what you read")


def _check_bench(entry: StateEntry, at: Moment) -> None:
    if entry.net is None:
        if at.standing.power != "bench":
            raise EntryError(f"no bench supply is on; the set is {at.standing.power}")
        return
    answer = bench_supply(replace(at.gate(), claimed=True), entry)
    if isinstance(answer, NoGo):
        raise Refused(f"bench supply: {answer}")


STATES: Mapping[str, Callable[[StateEntry, Moment], None]] = {"on": _check_on, "dead": _check_dead, "bench": _check_bench}
