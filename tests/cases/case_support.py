"""Worked cases of the trade, played line by line: from three lines (a starting sheet) and from a full sheet of one's own.

A case holds what a technician types, in his order, the misleading reading first; what is true stands beside it and reaches the tests alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from halfsplit.jobs.advice import all_blocks
from halfsplit.jobs.kit import read_kit
from halfsplit.jobs.weigh import weigh
from halfsplit.jobs.work import Work
from job_support import KIT, FakeClock

ACTS = frozenset(
    "off on dead lamp press release unplug plug lift remove refit dummy see smell hear bench no was black cant tell fit wait latched unit start symptom".split()
)  # a line that begins so is no reading: it keeps its place when readings are shuffled


@dataclass(frozen=True)
class Case:
    """begin: the three lines, or one text of a whole sheet. lines: what is typed then. misled: how many of the lines stand when the misleading
    reading has just been entered. true: (part, way) that failed; parts that died with it or killed it stand in `also`.
    decisive: lines that tell the part from its neighbours. root: words of the root cause, one of which the end must name."""

    begin: tuple[str, ...] | str
    lines: tuple[str, ...]
    true: tuple[str, str]
    misled: int
    decisive: tuple[str, ...]
    also: tuple[str, ...] = ()
    root: tuple[str, ...] = ()


def begun(case: Case, folder: Path) -> Work:
    """A fresh job of this case with nothing typed yet."""
    folder.mkdir(parents=True, exist_ok=True)
    work = Work(folder / "case", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=FakeClock())
    if isinstance(case.begin, str):
        work.begin_from_sheet(case.begin.encode(), "case.yaml")
        work.first()
    else:
        play(work, case.begin)
    return work


def play(work: Work, lines: Sequence[str]) -> dict[str, Any]:
    """Type these lines; each has to be taken. Returns the last answer."""
    answer: dict[str, Any] = {}
    for line in lines:
        answer = work.send(line)
        assert answer["ok"], f"{line}: {answer['refused']}"
    return answer


@dataclass(frozen=True)
class Played:
    """How a case stood after its misleading reading and at its end."""

    misled: dict[str, Any]
    end: dict[str, Any]
    involved: Mapping[str, float] = field(default_factory=dict)


def played(case: Case, folder: Path) -> Played:
    """The whole case. involved: part -> odds that it has failed, alone or with another."""
    work = begun(case, folder)
    misled = play(work, case.lines[: case.misled]) if case.misled else work.first()
    end = play(work, case.lines[case.misled :])
    return Played(misled, end, involved(work))


def involved(work: Work) -> dict[str, float]:
    """Part -> odds that it has failed, alone or in a pair."""
    table = work._table()
    return dict(weigh(work.standing, table, work.kit, all_blocks(table, work.standing)).post.involved)


def check(case: Case, folder: Path) -> Played:
    """What every worked case has to show: misled it accuses nobody wrong for sure, at its end it names the part that failed, and its cause.

    Raises AssertionError.
    """
    got = played(case, folder)
    wrong = [s for s in got.misled.get("suspects", ()) if s["part"] not in (case.true[0], *case.also) and s["odds"] > 0.95]
    assert not wrong and got.misled["card"].get("verdict") != "convicted", got.misled
    accused = list(got.involved)[: 1 + len(case.also)]
    assert case.true[0] in accused, (accused, got.end["suspects"][:3], got.end["pairs"][:2], got.end["not_on_sheet"])
    if not case.also:
        first = got.end["suspects"][0]
        assert (first["part"], first["way"]) == case.true, got.end["suspects"][:3]
        assert got.end["card"]["kind"] == "end" and case.true[0] in got.end["card"]["parts"], got.end["card"]
    if case.root:
        said = got.end["card"].get("text", "") + " ".join(str(p) for p in got.end["pairs"])
        assert any(re.search(word, said) for word in case.root), said
    return got


def without_decisive(case: Case, folder: Path) -> dict[str, Any]:
    """The end where the decisive lines were never typed: nobody may be convicted. Raises AssertionError."""
    rest = tuple(x for x in case.lines if x not in case.decisive)
    assert len(rest) < len(case.lines)
    end = play(begun(case, folder), rest)
    assert end["card"].get("verdict") != "convicted", end["card"]
    return end


def shuffled(lines: Sequence[str], seed: int) -> tuple[str, ...]:
    """The same lines with the readings of each state in another order."""
    rng = np.random.default_rng(seed)
    out: list[str] = []
    run: list[str] = []
    for line in (*lines, "see"):
        if line.split()[0].rstrip(":") in ACTS:
            out += [run[i] for i in rng.permutation(len(run))] + [line]
            run = []
        else:
            run.append(line)
    return tuple(out[:-1])
