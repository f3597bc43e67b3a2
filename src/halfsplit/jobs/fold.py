"""From the log to how things stand: the entries of a job, read anew in order. Nothing is ever subtracted.

A struck entry is left out of the fold, a corrected one is read with its right value; readings belong to the state in which
they were taken.
"""

from __future__ import annotations

from dataclasses import replace

from halfsplit.circuit.assemble import build_circuit, with_loose_legs
from halfsplit.circuit.model import Circuit
from halfsplit.circuit.sheet import compose_sheet, read_sheet
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.dummy import Dummy, loads_of
from halfsplit.diagnosis.fed import Fed
from halfsplit.errors import EntryError, InputError
from halfsplit.jobs.entry import (
    ActEntry,
    AnswerEntry,
    BindEntry,
    CantEntry,
    CorrectEntry,
    CyclesEntry,
    Entry,
    LookEntry,
    ModeEntry,
    ProvokeEntry,
    ReadingEntry,
    SameEntry,
    SheetEntry,
    StateEntry,
    Sticky,
    StrikeEntry,
    WaiveEntry,
    parse_line,
)
from halfsplit.jobs.entry_names import own_blacks
from halfsplit.jobs.isolation import cold_nets, spanning
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.safety import Waiver
from halfsplit.jobs.said_later import said_last
from halfsplit.jobs.standing import NO_NAMES, Happened, Standing, Taken
from halfsplit.jobs.table import Acts
from halfsplit.parts import FAMILIES, family_of


def circuit_of(sheet: tuple[tuple[str, str], ...]) -> Circuit | None:
    """The circuit that the sheet lines make; None while unit or start (or any way) is missing. Raises InputError."""
    sheet = said_last(sheet)
    keys = {key for key, _ in sheet}
    if "unit" not in keys or not keys & {"start", "ways", "way"}:
        return None
    # the start line is read by the starting sheets themselves: it may hold what YAML would trip over (`series chain: fuse, ...`)
    text = read_sheet(
        compose_sheet(tuple(("ways" if key == "way" else key, words) for key, words in sheet if key != "start")), "job"
    )
    line = next((words for key, words in reversed(sheet) if key == "start"), None)
    start = None if line is None else start_circuit(line, text.unit, tuple(item.text for item in text.symptom))
    return with_loose_legs(build_circuit(text, FAMILIES, start), FAMILIES)


def fold(lines: tuple[LogLine, ...], opened_after: int = 0) -> Standing:
    """Read a whole log. opened_after: number of its last line when the present sitting began, 0 where it began with the job.

    Sheet lines that follow each other are built together: a sheet may name a part before it says what it is.
    """
    struck, corrected, _ = amendments(lines)
    standing, unbuilt = Standing(), False
    for line in lines:
        now = line.time.timestamp()
        if opened_after and line.number == opened_after + 1:
            standing = new_sitting(standing, now)
        standing = replace(standing, last=line.number)
        if line.number in struck:
            standing = new_sitting(standing, now) if _fed_it(line.text) else standing
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
                    standing, unbuilt = _said(standing, entry), True
                else:
                    standing = step(standing, amended(entry, corrected.get(line.number)), line.number, now)
        except InputError as bad:
            standing = replace(standing, lost=(*standing.lost, (line.number, str(bad))))
    standing = _built(standing) if unbuilt else standing
    return new_sitting(standing, 0.0) if opened_after and len(lines) <= opened_after else standing


def _fed_it(text: str) -> bool:
    """A line that said that power was put on. Struck it says nothing, but no proof of dead from before it stands any more."""
    words = text.lower().split()
    return words == ["on"] or (words[:1] == ["bench"] and len(words) > 3)


def new_sitting(s: Standing, now: float) -> Standing:
    """Nobody knows what was done to the set since; nothing of the log is changed by that. now [s]."""
    return replace(s, power="unknown", confirmed=False, happened=(*s.happened, Happened("sitting", now)))


SHEET_KEYS = frozenset({"unit", "symptom", "start", "parts", "way", "ways", "does", "cold", "twin", "cant"})


def is_sheet_line(text: str) -> bool:
    """Whether a line begins with a key of the sheet and its colon."""
    return text.partition(":")[0].strip().lower() in SHEET_KEYS and ":" in text


def _seen_by_eye(entry: SheetEntry, s: Standing) -> bool:
    return entry.key == "cold" and s.circuit is not None and entry.words.strip().lower() in ("yes", "seen")


def _said(s: Standing, entry: SheetEntry) -> Standing:
    return replace(s, sheet=(*s.sheet, (entry.key, entry.words)))


def _built(s: Standing) -> Standing:
    """The circuit of the sheet as it now stands; a sheet that can't be built is said, and keeps what stood before."""
    try:
        return _with_circuit(s)
    except InputError as bad:
        return replace(s, lost=(*s.lost, (s.last, str(bad))))


def _with_circuit(s: Standing) -> Standing:
    """Build the sheet. Who writes a `cold:` line has looked at the parts that the sheet then shows across the gap."""
    circuit = circuit_of(s.sheet)
    first = s.circuit is None or s.circuit.cold_claims != (circuit.cold_claims if circuit else frozenset())
    told = first and any(key == "cold" for key, _ in s.sheet)
    return _by_eye(replace(s, circuit=circuit)) if told else replace(s, circuit=circuit)


def _by_eye(s: Standing) -> Standing:
    """Every part that the sheet now shows across the gap was named."""
    return s if s.circuit is None else replace(s, named=s.named | set(_places(s.circuit)))


def _places(circuit: Circuit) -> list[str]:
    """Boundary parts by their place where they have one: a designator that is bound later does not make it another part."""
    return [circuit.part(ref).place or ref for ref in spanning(circuit)]


def amendments(lines: tuple[LogLine, ...]) -> tuple[set[int], dict[int, CorrectEntry], dict[int, int]]:
    """Line numbers struck, corrections by the line they correct, and which line each `no` strikes. A bare `no` strikes the last line
    that says something; a `no` that is struck itself counts for nothing, and what it struck stands again."""
    corrected: dict[int, CorrectEntry] = {}
    strikes: dict[int, int] = {}
    said: list[int] = []
    for line in lines:
        word = line.text.split()[0].lower() if line.text.split() else ""
        if word in ("no", "was") or (word.isdigit() and line.text.lower().split()[1:2] == ["was"]):
            try:
                entry = parse_line(line.text, NO_NAMES, Sticky())[0]
            except InputError:
                continue
            struck = _struck(strikes)
            alive = [n for n in said if n not in struck]
            number = getattr(entry, "number", None) or (alive[-1] if alive else 0)
            if isinstance(entry, StrikeEntry):
                strikes[line.number] = number
            elif isinstance(entry, CorrectEntry):
                corrected[number] = entry
        else:
            said.append(line.number)
    return _struck(strikes), corrected, strikes


def _struck(strikes: dict[int, int]) -> set[int]:
    """What is struck in the end: later strikes first, for only they can strike a strike."""
    out: set[int] = set()
    for by in sorted(strikes, reverse=True):
        if by not in out:
            out.add(strikes[by])
    return out


def amended(entry: Entry, correction: CorrectEntry | None) -> Entry:
    """An entry with its correction in it."""
    if correction is None or not isinstance(entry, ReadingEntry):
        return entry
    if correction.reading is not None:
        right = correction.reading
        return replace(entry, value=right.value, function=right.function or entry.function, lo=None, hi=None, shown=right.shown)
    return entry


def _black_was(s: Standing, net: str, count: int) -> Standing:
    """The last readings again, with the black lead where it was."""
    old = s.readings[-count:]
    new = tuple(replace(t, entry=replace(t.entry, black_net=net)) for t in old)
    right = {id(a): b for a, b in zip(old, new, strict=True)}
    happened = tuple(replace(h, taken=right[id(h.taken)]) if id(h.taken) in right else h for h in s.happened)
    return replace(s, readings=(*s.readings[: len(s.readings) - len(old)], *new), happened=happened)


def step(s: Standing, entry: Entry, number: int, now: float) -> Standing:
    """How one entry changes the standing. now [s]. Raises InputError where a sheet can't be built."""
    if isinstance(entry, SheetEntry):
        return _by_eye(s) if _seen_by_eye(entry, s) else _with_circuit(_said(s, entry))
    if isinstance(entry, BindEntry):
        words = f"no {entry.word}" if entry.absent else f"{entry.refs} {entry.word} {entry.rest}".strip()
        sheet = (*s.sheet, ("parts", words))
        return replace(s, sheet=sheet, circuit=circuit_of(sheet))
    if isinstance(entry, CorrectEntry) and entry.black is not None and s.readings:
        return _black_was(s, entry.black, entry.count or 1)
    if isinstance(entry, SameEntry) and s.last_read:
        entry = replace(s.last_read[-1].entry, mark=entry.mark)
    if isinstance(entry, ReadingEntry):
        return _read(s, Taken(number, entry, s.power, s.pressed, s.lamp, s.acts, s.unplugged, s.fed, s.dummy), now)
    if isinstance(entry, StateEntry):
        return _state(s, entry, now)
    if isinstance(entry, ActEntry):
        return _act(s, entry, number)
    if isinstance(entry, LookEntry):
        return replace(s, looks=(*s.looks, (number, entry)))
    if isinstance(entry, ProvokeEntry):
        return replace(s, provoked=(*s.provoked, (number, entry)))
    if isinstance(entry, CyclesEntry):
        return replace(s, cycles=(*s.cycles, (number, entry)))
    if isinstance(entry, CantEntry) and entry.net:
        return replace(s, cant=s.cant | {entry.net})
    if isinstance(entry, ModeEntry):
        return replace(s, follow=entry.mode == "follow")
    if isinstance(entry, AnswerEntry):  # only the yes to a going-live list is ever logged
        return replace(s, confirmed=s.confirmed or (entry.answer == "y" and s.power == "on"))
    if isinstance(entry, WaiveEntry):
        return replace(s, waiver=Waiver(entry.name, entry.reason))
    return s


def _read(s: Standing, taken: Taken, now: float) -> Standing:
    """A reading. Who reads the mains against the 0 V of the cold side was shown the parts across the gap, and has looked."""
    if taken.entry.of_twin:  # the good one's volts and ohms prove nothing of this set: no gate ever sees them
        return replace(s, of_twin=(*s.of_twin, taken))
    e, event = taken.entry, Happened("read", now, taken=taken, acts=s.acts)
    s = replace(s, readings=(*s.readings, taken), happened=(*s.happened, event))
    ends = {e.red_net, e.black_net}
    across = s.circuit is not None and e.function == "r" and bool(ends & {"L", "N"}) and bool(ends & cold_nets(s.circuit))
    return _by_eye(s) if across else s


def _state(s: Standing, entry: StateEntry, now: float) -> Standing:
    if entry.kind == "bench" and entry.net is None and s.power != "bench":
        return s  # a supply that wasn't on can't be taken off: the set stays as it is
    event = Happened(entry.kind, now, entry.dead, entry.before, entry.after, entry.known, entry.net, acts=s.acts)
    happened = (*s.happened, event)
    changes: dict[str, dict[str, object]] = {
        "off": {"power": "unplugged", "pressed": frozenset(), "confirmed": False, "happened": happened},
        "on": {"power": "on", "confirmed": False, "happened": happened, "acts": replace(s.acts, fresh=frozenset())},
        "dead": {"pressed": frozenset(), "happened": happened},
        "meter": {"happened": happened},
        "bench": {"power": "bench" if entry.net else "unplugged", "happened": happened, "fed": _fed(s, entry)},
        "lamp": {"lamp": entry.lamp},
        "press": {"pressed": s.pressed | ({entry.control} if entry.control else set())},
        "release": {"pressed": s.pressed - {entry.control} if entry.control else frozenset()},
        "black": {"black": entry.net},
        "mark": {"mark": entry.value},
        "twin": {"twin": entry.value == "on"},
    }
    return replace(s, **changes.get(entry.kind, {}))  # type: ignore[arg-type]


def _fed(s: Standing, entry: StateEntry) -> Fed | None:
    """Where the bench supply now is; minus on the net is negative volts there."""
    if entry.net is None or s.circuit is None or entry.volts is None or entry.amps is None:
        return None
    volts = -abs(entry.volts) if entry.value == "minus" else abs(entry.volts)
    return Fed(entry.net, own_blacks(s.circuit).get(entry.net, s.circuit.grounds["hot"]), volts, entry.amps)


def dummy_of(circuit: Circuit, entry: ActEntry) -> Dummy:
    """The dummy load that an act puts in. Raises EntryError where it is not clear in place of what."""
    loads = loads_of(circuit)
    told = ", ".join(circuit.part(ref).place or ref for ref in loads) or "none"
    if entry.part is not None:
        ref = circuit.part(entry.part).ref
        runs = [run for run in loads.values() if ref in run.parts]
        if not runs:
            raise EntryError(f"{entry.part} is no load that a dummy can stand for; loads of this sheet: {told}")
    else:
        runs = [run for run in loads.values() if entry.net is None or entry.net in (run.plus, run.minus)]
        if len(runs) != 1:
            at = "on this sheet" if entry.net is None else f"at {entry.net}"
            raise EntryError(f"{len(runs)} loads {at}; name the one that comes off for the dummy: {told}")
    assert entry.ohms is not None and entry.watts is not None  # the words were read with both
    return Dummy(entry.ohms, entry.watts, runs[0])


def _dummy(s: Standing, entry: ActEntry) -> Standing:
    """With the dummy in place of a load, or with the load back."""
    back = s if s.dummy is None else replace(s, dummy=None, unplugged=s.unplugged - s.dummy.run.parts)
    if entry.ohms is None or s.circuit is None:
        return back
    dummy = dummy_of(s.circuit, entry)
    return replace(back, dummy=dummy, unplugged=back.unplugged | dummy.run.parts)


def _act(s: Standing, entry: ActEntry, number: int) -> Standing:
    if entry.act == "dummy":
        return _dummy(s, entry)
    if s.circuit is None or entry.part is None:
        return s
    part = s.circuit.part(entry.part)
    if s.dummy is not None and part.ref in s.dummy.run.parts and entry.act in ("plug", "refit"):
        return _dummy(s, ActEntry(text=entry.text, act="dummy"))
    lifted, removed = set(s.acts.lifted), set(s.acts.removed)
    if entry.act == "lift":
        pin = entry.pin or next(iter(family_of(part).plus_minus or tuple(part.pins)))
        lifted.add((part.ref, pin))
    elif family_of(part).left_out in part.tags and entry.act in ("remove", "unplug", "plug", "refit"):
        return _left_out(s, entry.act, part.ref, number)  # while it is out, what drives it may be read with the set on
    elif entry.act in ("unplug", "plug") and family_of(part).visible:  # a load at its connector: nothing to be refitted for it
        return replace(s, unplugged=s.unplugged | {part.ref} if entry.act == "unplug" else s.unplugged - {part.ref})
    elif entry.act in ("remove", "unplug"):
        removed.add(part.ref)
    elif entry.act in ("refit", "plug", "fit"):
        lifted = {(ref, pin) for ref, pin in lifted if ref != part.ref}
        removed.discard(part.ref)
    s = _left_out(s, "fit", part.ref, number) if entry.act == "fit" else s
    fitted = (*s.fitted, (number, part.place or part.ref)) if entry.act == "fit" else s.fitted
    waiver = None if entry.act == "fit" else s.waiver  # what was signed was signed for the set as it stood
    opens = family_of(part).mode is not None and family_of(part).protector  # only what may have opened for good is whole again by it
    fresh = s.acts.fresh | ({part.ref} if entry.act == "fit" and opens else set())
    return replace(s, acts=Acts(frozenset(lifted), frozenset(removed), fresh), fitted=fitted, waiver=waiver)


def _left_out(s: Standing, act: str, ref: str, number: int) -> Standing:
    """The same with an output transistor off the board, or on it again."""
    pulled = tuple(x for x in s.pulled if x[1] != ref)
    if act in ("remove", "unplug"):
        return replace(s, pulled=(*pulled, (number, ref)), unplugged=s.unplugged | {ref})
    return replace(s, pulled=pulled, unplugged=s.unplugged - {ref} if pulled != s.pulled else s.unplugged)
