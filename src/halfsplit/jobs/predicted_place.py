"""One reading place as a picture has it: which column stands for it, as it was read or as it would be read now, and its
values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.columns import ALONE, Condition, make_column
from halfsplit.diagnosis.outlook import Column, Outlook, Reading
from halfsplit.diagnosis.scale import VOLTS
from halfsplit.jobs.advice import Advice
from halfsplit.jobs.entry_names import own_blacks
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.standing import Standing, Taken
from halfsplit.jobs.table import Acts, Table
from halfsplit.jobs.weigh import Weighed

NOT_YET = "Nothing is weighed yet: unit, symptom and start come first, then the set has to be proven dead, or on."


SWITCHES = (
    "{} switches at a high frequency and is solved as an average over switching: that is nothing to measure, and no meter "
    "belongs on it while the set is on."
)


@dataclass(frozen=True)
class Ask:
    """A place to be shown. state: key of the condition as cards have it, None: as it was last read there, else as the set is
    now."""

    red: str
    black: str
    function: str
    alone: bool = False
    state: str | None = None


@dataclass(frozen=True)
class Place:
    """outlook: every suspect of the table with this one column, in its plain rows. index: of the column in the weighed outlook,
    None where it is not in there. read: what was read there, latest last. acts: what was off the board for it."""

    outlook: Outlook
    index: int | None
    read: tuple[tuple[Reading, Taken], ...]
    acts: Acts

    @property
    def column(self) -> Column:
        return self.outlook.columns[0]


def not_yet(advice: Advice | None) -> str:
    """Why nothing can be shown while nothing is weighed."""
    refused = advice is not None and advice.card.get("verdict") == "refused"
    return str(advice.card["text"]) if advice is not None and refused else NOT_YET


def condition_now(s: Standing, gate: Gate) -> Condition:
    """How the set is on, or would be next: behind its lamp, without the loads that are too much for the isolation transformer."""
    return gate.condition() if s.power == "on" else Condition(True, frozenset(), s.lamp, gate.to_unplug(), dummy=s.dummy)


def conditions_known(s: Standing, table: Table, gate: Gate) -> dict[str, Condition]:
    """State as cards have it -> the condition: as the set is, those it could be switched on in, and those in which it was
    read."""
    some = [
        s.unpowered,
        condition_now(s, gate),
        *table.conditions(s.lamp, gate.to_unplug(), s.dummy),
        *(t.condition for t in s.readings),
    ]
    return {c.key: c for c in some}


def place_of(ask: Ask, s: Standing, table: Table, weighed: Weighed, gate: Gate) -> Place | str:
    """The place as it was read or would be read, from the table where it stands there, else solved as for a typed reading; a text
    that says why where there is none."""
    circuit = table.circuit
    live = ask.function in VOLTS
    if why := untouched(circuit, s, ask.red, ask.black, live=live):
        return why
    known = conditions_known(s, table, gate)
    if ask.state is not None and ask.state != ALONE and ask.state not in known:
        return f"This set is not solved in the state {ask.state}."
    read = _read_there(ask, s, weighed)
    if read:
        reading, taken = read[-1]
        return Place(_one(weighed, table, reading.column), reading.column, read, taken.acts)
    state = ALONE if ask.alone else ask.state or (condition_now(s, gate) if live else s.unpowered).key
    taken_so = zip(weighed.post.readings, weighed.taken, strict=True)
    bent = set() if state == ALONE else {r.column for r, t in taken_so if _bends(t, s)}
    found = [i for i, c in enumerate(weighed.outlook.columns[: weighed.open]) if _is(c, ask, state) and i not in bent]
    if found and (state == ALONE or not s.acts.refs):
        return Place(_one(weighed, table, found[0]), found[0], (), Acts(fresh=s.acts.fresh))
    if state == ALONE:
        return f"No part by itself is read so from {ask.red} to {ask.black}."
    column = make_column(ask.function, ask.red, ask.black, state, where=where_of(ask.red, ask.black, own_blacks(circuit)))
    block = table.extra(column, known[state], s.acts)
    outlook = Outlook(tuple(x.row for x in table.suspects), (column,), block.value, block.pulsing)
    return Place(outlook, None, (), s.acts)


def untouched(circuit: Circuit, s: Standing, red: str, black: str, *, live: bool) -> str:
    """Why no probe goes to these nets; empty where both may be touched. live: with power on."""
    nets = s.acts.nets(circuit)
    if missing := [net for net in (red, black) if net not in nets]:
        return f"There is no net {missing[0]} on this sheet."
    if live and (nodes := [net for net in (red, black) if net in circuit.switching]):
        return SWITCHES.format(nodes[0])
    return ""


def where_of(red: str, black: str, own: dict[str, str]) -> str:
    """A pair of nets as it is typed: the black one only where it is not the 0 V of that side."""
    return red if own.get(red) == black else f"{red} to {black}"


def _is(column: Column, ask: Ask, state: str | None) -> bool:
    """Whether a column is this place, in this state if one is asked for."""
    same = (column.function, column.red, column.black) == (ask.function, ask.red, ask.black)
    return same and (column.state == ALONE) == ask.alone and (state is None or column.state == state)


def _bends(taken: Taken, s: Standing) -> bool:
    """A reading that was taken with other parts off the board, or before a part was fitted: not that of the set now."""
    return bool(taken.acts.refs) or taken.acts.fresh != s.acts.fresh


def _read_there(ask: Ask, s: Standing, weighed: Weighed) -> tuple[tuple[Reading, Taken], ...]:
    """What was read there. Where a state is asked for only what was read with the same parts off the board as now."""
    pairs = zip(weighed.post.readings, weighed.taken, strict=True)
    here = [(r, t) for r, t in pairs if _is(weighed.outlook.columns[r.column], ask, ask.state)]
    if ask.state is not None and not ask.alone:
        here = [(r, t) for r, t in here if t.acts.refs == s.acts.refs]
    return tuple((r, t) for r, t in here if here and r.column == here[-1][0].column)


def _one(weighed: Weighed, table: Table, index: int) -> Outlook:
    """One column of the weighed outlook, with the plain rows: each fault as it shows while it is there."""
    n, wide = len(table.suspects), weighed.outlook
    return Outlook(wide.rows[:n], (wide.columns[index],), wide.value[:n, [index]], wide.pulsing[:n, [index]])


def weights_of(weighed: Weighed, suspect: int) -> np.ndarray:
    """(units,) how likely each drawn unit is, if this suspect is the fault; they sum to one."""
    rows = [suspect] if weighed.coming is None else [int(i) for i in np.flatnonzero(weighed.coming.origin == suspect)]
    row = max(rows, key=lambda i: weighed.post.row_odds[i])
    weight = np.exp(weighed.post.draws[row])
    return np.asarray(weight / weight.sum())


def heaviest(table: Table, weighed: Weighed, most: int) -> list[int]:
    """Suspects of the table with a part, heaviest first, as the answer lists them."""
    odds = weighed.odds
    return [int(i) for i in np.argsort(-odds, kind="stable") if table.suspects[i].part is not None and odds[i] > 1e-4][:most]


__all__ = ["Ask", "Place", "condition_now", "conditions_known", "heaviest", "not_yet", "place_of", "untouched", "weights_of", "where_of"]
