"""The sheet of a job as a text that can be edited as a whole: what was changed becomes lines of the log, and nothing of it is lost."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit
from halfsplit.circuit.sheet import compose_sheet, read_sheet
from halfsplit.errors import InputError, Refused
from halfsplit.jobs.entry import BindEntry, Names, Sticky, parse_line
from halfsplit.jobs.fold import amendments, is_sheet_line
from halfsplit.jobs.gate import is_protector
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.refusals import is_guard
from halfsplit.jobs.sheets import circuit_of_sheet, entries_of

SINGLE = ("unit", "symptom", "start", "twin")  # a later line takes the place of an earlier one
LISTED = ("parts", "ways", "does", "cold", "cant")
SEPARATOR = {"parts": ";", "cold": ",", "cant": ","}


@dataclass(frozen=True)
class SheetLine:
    """One line of the log that the sheet is made of."""

    number: int
    key: str
    words: str

    @property
    def pieces(self) -> tuple[str, ...]:
        """What it says, one by one."""
        return _pieces(self.key, self.words)


def _pieces(key: str, words: str) -> tuple[str, ...]:
    at = SEPARATOR.get(key)
    return tuple(_plain(p) for p in (words.split(at) if at else [words]) if p.strip())


def _plain(words: str) -> str:
    return " ".join(words.split())


def sheet_lines(lines: Sequence[LogLine], names: Names) -> tuple[SheetLine, ...]:
    """The lines of a log that the sheet is made of, in order. names: of the board as it stands, for parts that were named in passing."""
    struck, _, _ = amendments(tuple(lines))
    out = []
    for line in lines:
        if line.number in struck:
            continue
        if is_sheet_line(line.text):
            key, _, words = line.text.partition(":")
            key = _whole_key(key.strip().lower())
            if key == "cold" and words.strip().lower() in ("yes", "seen"):
                continue
            # `series chain: fuse, ...` may be typed with a second colon; a sheet has none, and the words mean the same without
            words = re.sub(r":(?=\s)", "", words) if key == "start" else words
            out.append(SheetLine(line.number, key, words.strip()))
            continue
        bound = _bound(line.text, names)
        if bound:
            out.append(SheetLine(line.number, "parts", bound))
    return tuple(out)


def _bound(text: str, names: Names) -> str:
    try:
        entries = parse_line(text, names, Sticky())
    except InputError:
        return ""
    bound = [e for e in entries if isinstance(e, BindEntry)]
    return "; ".join(f"no {e.word}" if e.absent else f"{e.refs} {e.word} {e.rest}".strip() for e in bound)


def sheet_text(lines: Sequence[SheetLine]) -> str:
    """The sheet as a text in the order of its keys."""
    return compose_sheet((line.key, line.words) for line in lines)


def check_text(text: str) -> Circuit:
    """The circuit of a sheet's text. Raises SheetError at line and column, or Refused."""
    return circuit_of_sheet(read_sheet(text, "sheet"))


def edits(lines: Sequence[SheetLine], circuit: Circuit | None, text: str) -> list[str]:
    """What to enter so that the job's sheet says what the text says; empty where it does. Raises SheetError, Refused."""
    sheet = read_sheet(text, "sheet")
    new = circuit_of_sheet(sheet)
    lost = protectors_lost(circuit, new)
    if lost:
        raise Refused(f"{', '.join(lost)}: a protector that stood on the sheet stays on it; there is no waiver. Put the line back")
    wanted = entries_of(sheet)
    single = {**dict(wanted), "twin": sheet.twin.text if sheet.twin else ""}
    out = [line for key in SINGLE for line in _single(key, single.get(key, ""), [x for x in lines if x.key == key])]
    for key in LISTED:
        pieces = [piece for said, words in wanted if _whole_key(said) == key for piece in _pieces(key, words)]
        out += _listed(key, pieces, [x for x in lines if x.key == key])
    return out


def _whole_key(key: str) -> str:
    """The key of the list that a line of the log goes into."""
    return {"way": "ways"}.get(key, key)


def _single(key: str, wanted: str, have: Sequence[SheetLine]) -> list[str]:
    now = have[-1].words if have else ""
    if _plain(now) == _plain(wanted) or (key == "symptom" and _plain(now).replace(" ;", ";") == _plain(wanted)):
        return []
    return [f"{key}: {wanted}"] if wanted else [f"no {x.number}" for x in have]


def _listed(key: str, wanted: Sequence[str], have: Sequence[SheetLine]) -> list[str]:
    """Lines with something that is no longer wanted are struck; what is wanted and stands nowhere is entered."""
    left = list(wanted)
    strike: list[str] = []
    for line in have:
        if all(left.count(p) >= line.pieces.count(p) for p in line.pieces):
            for piece in line.pieces:
                left.remove(piece)
        else:
            strike.append(f"no {line.number}")
    return strike + [f"{'way' if key == 'ways' else key}: {words}" for words in left]


def protectors_lost(old: Circuit | None, new: Circuit | None) -> list[str]:
    """Protectors that somebody has seen and that the other circuit has not, by name or between the same nets."""
    if old is None:
        return []
    left = () if new is None else new.parts
    here = {p.ref for p in left} | {p.place for p in left if p.place}
    between = {(p.family, frozenset(p.pins.values())) for p in left}
    return [
        p.ref
        for p in old.parts
        if not p.assumed and is_guard(p, is_protector) and p.ref not in here and (p.family, frozenset(p.pins.values())) not in between
    ]
