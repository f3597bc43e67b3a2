"""Right or wrong: the last card held against the fault that was in the board and the group fixed beforehand."""

from __future__ import annotations

from dataclasses import dataclass

from bench import Fault
from halfsplitting import Finding
from robot import Record

ANSWERS = ("convicted", "group", "nothing found")


@dataclass(frozen=True)
class Judged:
    """right: the true part first. in_group: an answer that no offered reading could better. Exactly one of right, wrong,
    no_answer or (in_group alone) holds: a conviction inside the true part's group is neither right nor wrong."""

    right: bool
    in_group: bool
    in_three: bool
    no_answer: bool
    wrong: bool


def judge_record(record: Record, fault: Fault | None, group: frozenset[str]) -> Judged:
    """group: part names that no offered reading tells apart, the true one among them; "" is a board with nothing wrong."""
    truth = fault[0] if fault else ""
    ranked = list(dict.fromkeys((*record.parts, *(part for part, _, _ in record.suspects))))
    three = truth in ranked[:3] or (fault is None and record.ended == "nothing found")
    if record.ended not in ANSWERS:
        return Judged(False, False, three, True, False)
    named = list(record.parts) if record.ended != "nothing found" else [""]
    if record.ended == "group":
        right = truth in named and (named[0] == truth or set(named) <= group)
        none = not right and truth in named
        return Judged(right, right, three, none, not right and not none)
    right = named[:1] == [truth]
    inside = right or (bool(named) and named[0] in group)
    return Judged(right, inside, three, False, not inside)


def judge_finding(finding: Finding, fault: Fault | None) -> Judged:
    """The rival names one part or none."""
    truth = fault[0] if fault else ""
    right = finding.part == truth
    return Judged(right, right, right, finding.part is None, finding.part is not None and not right)
