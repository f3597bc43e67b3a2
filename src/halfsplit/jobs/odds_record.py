"""What the odds were after each entry that counts: kept as the job goes, worked out from the log's prefixes where it was
reopened.

Every point is what the entries up to it say against the table as it stands now, with whatever that calls for solved: so a job
that is reopened has the same points as the one that went on (to the fifth place: what could be read beside hardly moves them), a
struck entry has none, and a corrected one its right value.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.build import Block
from halfsplit.jobs.advice import Advice, all_blocks, prior_odds
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.kit import Kit
from halfsplit.jobs.standing import Standing, Taken
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import Weighed, columns_read, weigh
from halfsplit.parts.base import Array

Key = tuple[Any, ...]


@dataclass(frozen=True)
class OddsPoint:
    """The odds after one entry. suspects (rows of the table,): of each single fault, always there or not; the healthy row is in
    it. With not_on_sheet and two_at_once they sum to one."""

    suspects: Array
    nothing_wrong: float
    not_on_sheet: float
    two_at_once: float


@dataclass
class OddsRecord:
    """Points that are known already. table: what they were weighed against; of another one they say nothing."""

    table: Table | None = None
    points: dict[Key, OddsPoint] = field(default_factory=dict)

    def of(self, table: Table) -> dict[Key, OddsPoint]:
        """The points of this table."""
        if self.table is not table:
            self.table, self.points = table, {}
        return self.points

    def note(self, s: Standing, table: Table, advice: Advice) -> None:
        """Keep the odds of an answer; what is said before anything may be read is no point."""
        if advice.weighed is not None:
            self.of(table)[key_of(s, table.circuit)] = point_of(advice.weighed)

    def point(self, s: Standing, table: Table, kit: Kit, line: int, may_solve: Callable[[], bool]) -> OddsPoint | None:
        """The odds after this line of the log; None where they are not known and there is no time to work them out."""
        points = self.of(table)
        then = up_to(s, line)
        key = key_of(then, table.circuit)
        if key not in points and may_solve():
            points[key] = point_of(weigh(then, table, kit, blocks_of(then, table, kit)))
        return points.get(key)


def blocks_of(s: Standing, table: Table, kit: Kit) -> list[Block]:
    """Of the columns on offer those of states in which something was read, dead and alone. What could be read elsewhere hardly
    moves the odds, and two faults at once would have to be solved there too."""
    off = Gate(s, table, kit, prior_odds(table.suspects), 0.0).to_unplug()  # by the set's watts: odds and time don't matter
    states = {t.condition.key for t in s.readings}
    return [b for b in all_blocks(table, s, off) if b.columns and (not b.columns[0].live or b.columns[0].state in states)]


def point_of(weighed: Weighed) -> OddsPoint:
    """The odds of what was weighed."""
    post = weighed.post
    return OddsPoint(weighed.odds, post.nothing_wrong, post.not_on_sheet, post.two_at_once)


def counts(taken: Taken, circuit: Circuit) -> bool:
    """Whether a reading moves the odds: volts of a dead set and what was read on the bench supply don't."""
    there = {taken.entry.red_net, taken.entry.black_net} <= taken.acts.nets(circuit)
    return taken.entry.mark is not None or (there and bool(columns_read(taken, circuit)))


def counting_lines(s: Standing, circuit: Circuit) -> tuple[int, ...]:
    """Numbers of the lines that the odds hang on, in their order: readings, looks, parts fitted, tries to provoke, good
    starts."""
    said = [line for some in (s.looks, s.fitted, s.provoked, s.cycles) for line, _ in some]
    return tuple(sorted({*said, *(t.line for t in s.readings if counts(t, circuit))}))


def up_to(s: Standing, line: int) -> Standing:
    """What had been read, seen and done up to a line, of the set as it stands now."""
    return replace(
        s,
        readings=tuple(t for t in s.readings if t.line <= line),
        looks=tuple(x for x in s.looks if x[0] <= line),
        fitted=tuple(x for x in s.fitted if x[0] <= line),
        provoked=tuple(x for x in s.provoked if x[0] <= line),
        cycles=tuple(x for x in s.cycles if x[0] <= line),
    )


def key_of(s: Standing, circuit: Circuit) -> Key:
    """Everything that the odds hang on, beside the table and the bench. A good twin's readings move bands and no odds, and so
    does what could be read next: the lamp in series now, loads that are unplugged."""
    read = tuple(t for t in s.readings if counts(t, circuit))
    return (read, s.looks, s.fitted, s.provoked, s.cycles, s.mark, s.acts.fresh)
