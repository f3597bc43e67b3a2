"""The reading line: one line at the bench in, frozen entries out.

Who wins, in this order: an answer to an open question, a sheet key with its colon, a binding (`C5 bulk-cap`),
a place on this board with a value behind it (a verb never hides a net), bare values for the card, verbs.
"""

from __future__ import annotations

import re
from dataclasses import replace

from halfsplit.errors import EntryError, InputError, UnknownName
from halfsplit.jobs.entry_names import CardView, Names, Sticky, find, is_place, names_of
from halfsplit.jobs.entry_reading import Bench, bare_readings, placed_readings
from halfsplit.jobs.entry_types import (
    ActEntry,
    AnswerEntry,
    AskEntry,
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
    StrikeEntry,
    WaiveEntry,
)
from halfsplit.jobs.entry_values import TAIL_WORDS, looks_like_value
from halfsplit.jobs.entry_words import VERBS, bind, correct_numbered
from halfsplit.jobs.log import check_line

__all__ = [
    "ActEntry",
    "AnswerEntry",
    "AskEntry",
    "BindEntry",
    "CantEntry",
    "CardView",
    "CorrectEntry",
    "CyclesEntry",
    "Entry",
    "LookEntry",
    "ModeEntry",
    "Names",
    "ProvokeEntry",
    "ReadingEntry",
    "SameEntry",
    "SheetEntry",
    "StateEntry",
    "Sticky",
    "StrikeEntry",
    "WaiveEntry",
    "names_of",
    "parse_line",
]

SENSES = ("see", "smell", "hear", "feel")
_SHEET = re.compile(r"(?P<key>unit|symptom|start|parts|ways?|does|cold|twin|cant)\s*:\s*(?P<words>.*)", re.IGNORECASE)
_MARK = re.compile(r"(?P<mark>ok|bad)\s*:\s*(?P<rest>.*)", re.IGNORECASE)
_REFS = re.compile(r"[A-Za-z]{1,4}[0-9]{1,4}[A-Za-z]?\??(?:(?:\+|//)[A-Za-z]{1,4}[0-9]{1,4}[A-Za-z]?\??)*")
_DESIGNATOR = re.compile(r"[A-Za-z]{1,4}[0-9]{1,4}[A-Za-z]?(?:\..+)?")


def parse_line(text: str, names: Names, sticky: Sticky, card: CardView | None = None) -> tuple[Entry, ...]:
    """What the technician said in one line.

    Parameters: names known on this board; sticky state that is never retyped; the card on show, if any.
    Returns: one entry, or several where one line holds several readings or bindings.
    Raises: InputError (EntryError, UnknownName) saying what is wrong and what to do; then nothing of the line counts.
    """
    bench = Bench(check_line(text), names, sticky, card)
    line = text.strip()
    if card is not None and line.lower() in (a.lower() for a in card.answers):
        return (AnswerEntry(text=text, answer=line.lower()),)
    if sheet := _SHEET.fullmatch(line):
        return (_sheet(text, sheet["key"].lower(), sheet["words"].strip()),)
    if marked := _MARK.fullmatch(line):
        return _marked(bench, marked["mark"].lower(), marked["rest"].strip())
    return _plain(line.split(), bench)


def _sheet(text: str, key: str, words: str) -> Entry:
    if not words:
        raise EntryError(f"{key}: what? the words are missing, like `unit: label printer, 230V 50Hz, class II, 40W`")
    return SheetEntry(text=text, key=key.removesuffix("s") if key == "ways" else key, words=words)


def _marked(bench: Bench, mark: str, rest: str) -> tuple[Entry, ...]:
    """`bad: ...`, `ok: ...` hold for one reading or look; alone they hold until changed."""
    if not rest:
        return (StateEntry(text=bench.text, kind="mark", value=mark),)
    marked = replace(bench, sticky=replace(bench.sticky, ok_bad=mark))
    entries = _plain(rest.split(), marked)
    if not all(isinstance(e, ReadingEntry | LookEntry | SameEntry) for e in entries):
        raise EntryError(f"`{mark}:` goes before a reading or a look, like `{mark}: vcc 9.3`; give {rest!r} its own line")
    return entries


def _plain(words: list[str], bench: Bench) -> tuple[Entry, ...]:
    if _is_binding(words, bench.names):
        return _bindings(words, bench)
    if is_place(words[0], bench.names):
        return _place_first(words, bench)
    return _without_place(words, bench)


def _place_first(words: list[str], bench: Bench) -> tuple[Entry, ...]:
    """A place with a value is a reading, whatever else its name could mean; only what is none may be a verb."""
    if len(words) == 1 and bench.card is not None and bench.card.probes and looks_like_value(words[0]):
        where = bench.card.probes[0][0]
        raise EntryError(  # half a line or a whole value: taking it for a value would log what was never read
            f"{words[0]!r} names a net or part here and could be a value; if it was read at {where}, write `{where} {words[0]}`"
        )
    try:
        return placed_readings(words, bench)
    except InputError as no_reading:
        if words[0].lower() not in (*VERBS, *SENSES):
            raise
        try:
            return _without_place(words, bench)
        except InputError:
            raise no_reading from None


def _without_place(words: list[str], bench: Bench) -> tuple[Entry, ...]:
    low = words[0].lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    if (corrected := correct_numbered(bench, words)) is not None:
        return (corrected,)
    if low in SENSES:
        return (_look(low, words[1:], bench),)
    if low == "no" and len(words) > 1 and ";" in " ".join(words):
        return _bindings(words, bench)
    if low in VERBS:
        return (VERBS[low](bench, low, words[1:]),)
    if _DESIGNATOR.fullmatch(words[0]):
        raise UnknownName("part", words[0], (*bench.names.parts, *bench.names.nets))
    if looks_like_value(words[0]) or low in ("max", "min", "every"):
        return bare_readings(words, bench)
    raise UnknownName("place or word", words[0], (*bench.names.places, *VERBS, *SENSES))


def _is_binding(words: list[str], names: Names) -> bool:
    """`C5 bulk-cap ...`: designators, then a place or kind of part and not a value or a word of a reading."""
    if len(words) < 2 or not _REFS.fullmatch(words[0]) or find(words[0], names.nets) is not None:
        return False
    second = words[1].strip(",;").lower()
    if second in TAIL_WORDS:
        return False
    if find(second, names.parts) is not None:
        return not _DESIGNATOR.fullmatch(second)  # two designators are a slip, no binding
    if names.kinds is not None and find(second, names.kinds) is not None:
        return True
    # a word that nobody vouches for binds only a part that is not known yet; for a known one it is a slip in a reading
    return find(words[0], names.parts) is None and second[:1].isalpha() and not looks_like_value(second)


def _bindings(words: list[str], bench: Bench) -> tuple[Entry, ...]:
    """One entry for each item between semicolons: `D8//D9 rectifier; no mov`."""
    found: list[Entry] = []
    for item in " ".join(words).split(";"):
        piece = item.split()
        if not piece:
            continue
        if piece[0].lower() == "no" and len(piece) > 1 and not piece[1].isdigit():
            found.append(VERBS["no"](bench, "no", piece[1:]))
        elif len(piece) > 1 and _REFS.fullmatch(piece[0]):
            found.append(bind(bench, piece))
        else:
            raise EntryError(f"{item.strip()!r} does not say which part is which place; write it like `C5 bulk-cap 68u 400V`")
    return tuple(found)


def _look(sense: str, rest: list[str], bench: Bench) -> Entry:
    """`see C7 domed`, `see lamp flash, dull`, `see nothing`."""
    if not rest:
        raise EntryError(f"{sense} what? write it like `see C7 domed`, or `{sense} nothing`")
    where = _look_place(rest[0].rstrip(","), bench.names)
    words = " ".join(rest[1:] if where is not None else rest)
    signs = tuple(s.strip() for s in words.split(",") if s.strip())
    if not signs:
        raise EntryError(f"{sense} {rest[0]}: and what about it? write it like `{sense} {rest[0]} domed`, or `nothing`")
    return LookEntry(text=bench.text, mark=bench.sticky.ok_bad, sense=sense, where=where, signs=signs)


def _look_place(word: str, names: Names) -> str | None:
    """The part or net looked at, or the series lamp; a designator nobody knows is refused and not taken for a sign."""
    found = find(word, names.parts) or find(word, names.nets)
    if found is None and word.lower() == "lamp":
        return "lamp"
    if found is None and _DESIGNATOR.fullmatch(word):
        raise UnknownName("part", word, names.places)
    return found
