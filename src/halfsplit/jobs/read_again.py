"""The log read again as if another starting sheet had been named: the same lines, with the words of that sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from halfsplit.circuit.model import Circuit
from halfsplit.circuit.starting.others import translation
from halfsplit.errors import InputError
from halfsplit.jobs.fold import circuit_of, fold, is_sheet_line
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.standing import Standing, Taken

FIRST_WORDS = ("unit", "symptom", "start")  # of a sheet's lines, those that stand on every sheet


def stood(taken: Taken) -> tuple[bool, int, float | None, int]:
    """How the set stood, in what two sheets share."""
    return taken.power == "on", len(taken.pressed), taken.lamp, len(taken.acts.refs)


def side_by_side(mine: Sequence[Taken], other: Sequence[Taken]) -> dict[int, Taken]:
    """id of a reading -> the same reading on the other sheet; a line that came out as another number of readings is left out."""
    out: dict[int, Taken] = {}
    unique = list({id(t): t for t in mine}.values())
    for number in {t.line for t in unique}:
        here, there = [t for t in unique if t.line == number], [t for t in other if t.line == number]
        if len(here) == len(there):
            out |= {id(a): b for a, b in zip(here, there, strict=True)}
    return out


def standing_under(line: str, here: Circuit, log: Sequence[LogLine]) -> Standing | None:
    """The log read again with another start line; sheet lines that do not fit that sheet are left out."""
    try:
        unit = [
            (k.strip(), w.strip()) for k, _, w in (x.text.partition(":") for x in log) if k.strip().lower() in FIRST_WORDS[:2]
        ]
        bare = circuit_of((*unit, ("start", line)))
    except InputError:
        return None
    if bare is None:
        return None
    words = translation(here, bare)
    lines = [replace(x, text=_said_there(x.text, line, words)) for x in log]
    whole = fold(tuple(lines))
    if whole.circuit is not None and not any(_is_sheet(x.text) for x in lines if x.number in {n for n, _ in whole.lost}):
        return whole
    kept: list[LogLine] = []
    for x in lines:  # one sheet line more at a time, as long as the sheet still builds
        if _is_sheet(x.text):
            trial = fold((*(k for k in kept if not _reads(k)), x))
            if trial.lost:
                continue
        kept.append(x)
    out = fold(tuple(kept))
    return out if out.circuit is not None else None


def _is_sheet(text: str) -> bool:
    return is_sheet_line(text) and text.partition(":")[0].strip().lower() not in FIRST_WORDS


def _reads(x: LogLine) -> bool:
    """Not a line of the sheet: a reading, a state, a look."""
    return not is_sheet_line(x.text)


def _said_there(text: str, start: str, words: dict[str, str]) -> str:
    key = text.partition(":")[0].strip().lower()
    if key == "start" and ":" in text:
        return f"start: {start}"
    if key in ("unit", "symptom"):
        return text
    return " ".join(words.get(word, word) for word in text.split())
