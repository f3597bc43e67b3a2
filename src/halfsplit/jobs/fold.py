"""From the log to how things stand: the entries of a job, read anew in order. Nothing is ever subtracted.

A struck entry is left out of the fold, a corrected one is read with its right value; readings belong to the state in which
they were taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from halfsplit.circuit.assemble import build_circuit
from halfsplit.circuit.model import Circuit
from halfsplit.circuit.sheet import compose_sheet, read_sheet
from halfsplit.circuit.starting import start_circuit
from halfsplit.errors import InputError
from halfsplit.jobs.entry import (
    ActEntry,
    BindEntry,
    CantEntry,
    CorrectEntry,
    Entry,
    LookEntry,
    ModeEntry,
    Names,
    ReadingEntry,
    SameEntry,
    SheetEntry,
    StateEntry,
    Sticky,
    StrikeEntry,
    names_of,
    parse_line,
)
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.table import Acts
from halfsplit.parts import FAMILIES, family_of

NO_NAMES = Names()


@dataclass(frozen=True)
class Taken:
    """One reading in the state it was taken in."""

    line: int
    entry: ReadingEntry
    power: str
    pressed: frozenset[str]
    lamp: float | None
    acts: Acts
    unplugged: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Standing:
    """How the job stands after its last line.

    sheet: what was said of the unit, as (key, words). circuit: None until unit and start (or ways) are there.
    readings and looks in order. lost: lines that no longer make sense, with the reason; they stay in the log.
    """

    sheet: tuple[tuple[str, str], ...] = ()
    circuit: Circuit | None = None
    power: str = "unknown"
    pressed: frozenset[str] = frozenset()
    lamp: float | None = None
    black: str | None = None
    acts: Acts = Acts()
    unplugged: frozenset[str] = frozenset()
    readings: tuple[Taken, ...] = ()
    looks: tuple[tuple[int, LookEntry], ...] = ()
    dead: Mapping[str, float] = field(default_factory=dict)
    proven_at: float | None = None
    eye_named: bool = False
    follow: bool = False
    cant: frozenset[str] = frozenset()
    fitted: tuple[str, ...] = ()
    lost: tuple[tuple[int, str], ...] = ()
    last: int = 0

    @property
    def names(self) -> Names:
        return NO_NAMES if self.circuit is None else names_of(self.circuit, FAMILIES)

    @property
    def sticky(self) -> Sticky:
        return Sticky(power=self.power, black=self.black or default_black(self.circuit))


def default_black(circuit: Circuit | None) -> str | None:
    """0 V of the hot side until the black lead is said to be elsewhere."""
    return None if circuit is None else circuit.grounds.get("hot")


def circuit_of(sheet: tuple[tuple[str, str], ...]) -> Circuit | None:
    """The circuit that the sheet lines make; None while unit or start (or any way) is missing. Raises InputError."""
    keys = {key for key, _ in sheet}
    if "unit" not in keys or not keys & {"start", "ways", "way"}:
        return None
    # the start line is read by the starting sheets themselves: it may hold what YAML would trip over (`series chain: fuse, ...`)
    text = read_sheet(compose_sheet(tuple(("ways" if key == "way" else key, words) for key, words in sheet if key != "start")), "job")
    line = next((words for key, words in reversed(sheet) if key == "start"), None)
    start = None if line is None else start_circuit(line, text.unit, tuple(item.text for item in text.symptom))
    return build_circuit(text, FAMILIES, start)


def fold(lines: tuple[LogLine, ...]) -> Standing:
    """Read a whole log. Sheet lines that follow each other are built together: a sheet may name a part before it says what it is."""
    struck, corrected = _amendments(lines)
    standing, unbuilt = Standing(), False
    for line in lines:
        standing = replace(standing, last=line.number)
        if line.number in struck:
            continue
        try:
            entries = () if unbuilt else parse_line(line.text, standing.names, standing.sticky)
            if unbuilt:
                entries = parse_line(line.text, NO_NAMES, Sticky()) if is_sheet_line(line.text) else ()
            if not all(isinstance(e, SheetEntry) for e in entries) or not entries:
                standing, unbuilt = (_built(standing) if unbuilt else standing), False
                entries = parse_line(line.text, standing.names, standing.sticky)
            for entry in entries:
                if isinstance(entry, SheetEntry) and not _seen_by_eye(entry, standing):
                    standing = replace(
                        standing, sheet=(*standing.sheet, (entry.key, entry.words)), eye_named=standing.eye_named or entry.key == "cold"
                    )
                    unbuilt = True
                else:
                    standing = step(standing, amended(entry, corrected.get(line.number)), line.number, line.time.timestamp())
        except InputError as bad:
            standing = replace(standing, lost=(*standing.lost, (line.number, str(bad))))
    return _built(standing) if unbuilt else standing


SHEET_KEYS = frozenset({"unit", "symptom", "start", "parts", "way", "ways", "does", "cold", "twin", "cant"})


def is_sheet_line(text: str) -> bool:
    """Whether a line begins with a key of the sheet and its colon."""
    return text.partition(":")[0].strip().lower() in SHEET_KEYS and ":" in text


def _seen_by_eye(entry: SheetEntry, s: Standing) -> bool:
    return entry.key == "cold" and s.circuit is not None and entry.words.strip().lower() in ("yes", "seen")


def _built(s: Standing) -> Standing:
    """The circuit of the sheet as it now stands; a sheet that can't be built is said, and keeps what stood before."""
    try:
        return replace(s, circuit=circuit_of(s.sheet))
    except InputError as bad:
        return replace(s, lost=(*s.lost, (s.last, str(bad))))


def _amendments(lines: tuple[LogLine, ...]) -> tuple[set[int], dict[int, CorrectEntry]]:
    """Line numbers struck, and corrections by the line they correct. A bare `no` strikes the last line that says something."""
    struck: set[int] = set()
    corrected: dict[int, CorrectEntry] = {}
    said: list[int] = []
    for line in lines:
        word = line.text.split()[0].lower() if line.text.split() else ""
        if word in ("no", "was") or (word == "black" and line.text.split()[1:2] == ["was"]):
            try:
                entry = parse_line(line.text, NO_NAMES, Sticky())[0]
            except InputError:
                continue
            alive = [n for n in said if n not in struck]
            number = getattr(entry, "number", None) or (alive[-1] if alive else 0)
            if isinstance(entry, StrikeEntry):
                struck.add(number)
            elif isinstance(entry, CorrectEntry):
                corrected[number] = entry
        else:
            said.append(line.number)
    return struck, corrected


def amended(entry: Entry, correction: CorrectEntry | None) -> Entry:
    """An entry with its correction in it."""
    if correction is None or not isinstance(entry, ReadingEntry):
        return entry
    if correction.reading is not None:
        right = correction.reading
        return replace(entry, value=right.value, function=right.function or entry.function, lo=None, hi=None, shown=right.shown)
    if correction.black is not None:
        return replace(entry, black_net=correction.black)
    return entry


def step(s: Standing, entry: Entry, number: int, now: float) -> Standing:
    """How one entry changes the standing. now [s]."""
    if isinstance(entry, SheetEntry):
        if entry.key == "cold" and s.circuit is not None and entry.words.strip().lower() in ("yes", "seen"):
            return replace(s, eye_named=True)
        sheet = (*s.sheet, (entry.key, entry.words))
        return replace(s, sheet=sheet, circuit=circuit_of(sheet), eye_named=s.eye_named or entry.key == "cold")
    if isinstance(entry, BindEntry):
        words = f"no {entry.word}" if entry.absent else f"{entry.refs} {entry.word} {entry.rest}".strip()
        sheet = (*s.sheet, ("parts", words))
        return replace(s, sheet=sheet, circuit=circuit_of(sheet))
    if isinstance(entry, ReadingEntry):
        insulation = {entry.red_net, entry.black_net} & {"L"} and entry.function == "r"
        taken = Taken(number, entry, s.power, s.pressed, s.lamp, s.acts, s.unplugged)
        return replace(s, readings=(*s.readings, taken), eye_named=s.eye_named or bool(insulation))
    if isinstance(entry, SameEntry) and s.readings:
        return replace(
            s, readings=(*s.readings, replace(s.readings[-1], line=number, power=s.power, acts=s.acts, pressed=s.pressed))
        )
    if isinstance(entry, StateEntry):
        return _state(s, entry, now)
    if isinstance(entry, ActEntry):
        return _act(s, entry)
    if isinstance(entry, LookEntry):
        return replace(s, looks=(*s.looks, (number, entry)))
    if isinstance(entry, CantEntry) and entry.net:
        return replace(s, cant=s.cant | {entry.net})
    if isinstance(entry, ModeEntry):
        return replace(s, follow=entry.mode == "follow")
    return s


def _state(s: Standing, entry: StateEntry, now: float) -> Standing:
    changes: dict[str, dict[str, object]] = {
        "off": {"power": "unplugged", "pressed": frozenset(), "dead": {}, "proven_at": None},
        "on": {"power": "on", "dead": {}, "proven_at": None},
        "dead": {"power": "dead", "dead": dict(entry.dead), "proven_at": now, "pressed": frozenset()},
        "lamp": {"lamp": entry.lamp},
        "press": {"pressed": s.pressed | ({entry.control} if entry.control else set())},
        "release": {"pressed": s.pressed - {entry.control} if entry.control else frozenset()},
        "black": {"black": entry.net},
    }
    return replace(s, **changes.get(entry.kind, {}))  # type: ignore[arg-type]


def _act(s: Standing, entry: ActEntry) -> Standing:
    if s.circuit is None or entry.part is None:
        return s
    part = s.circuit.part(entry.part)
    lifted, removed = set(s.acts.lifted), set(s.acts.removed)
    if entry.act == "lift":
        pin = entry.pin or next(iter(family_of(part).plus_minus or tuple(part.pins)))
        lifted.add((part.ref, pin))
    elif entry.act in ("unplug", "plug") and family_of(part).visible:  # a load at its connector: nothing to be refitted for it
        return replace(s, unplugged=s.unplugged | {part.ref} if entry.act == "unplug" else s.unplugged - {part.ref})
    elif entry.act in ("remove", "unplug"):
        removed.add(part.ref)
    elif entry.act in ("refit", "plug", "fit"):
        lifted = {(ref, pin) for ref, pin in lifted if ref != part.ref}
        removed.discard(part.ref)
    fitted = (*s.fitted, part.ref) if entry.act == "fit" else s.fitted
    return replace(s, acts=Acts(frozenset(lifted), frozenset(removed)), fitted=fitted)
