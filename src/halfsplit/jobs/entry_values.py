"""The value part of a reading: words after the place, gathered into one group a reading, then turned into numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from halfsplit.errors import EntryError, InputError, UnknownName
from halfsplit.units import Quantity, is_quantity, parse_quantity, plain_signs

UNIT_OF = {"v": "V", "ac": "V", "d": "V", "r": "ohm", "esr": "ohm", "c": "F", "a": "A", "hz": "Hz", "l": "H", "temp": "C"}
"""Meter function -> unit it shows."""

FUNCTION_WORDS = {
    "v": "v",
    "dc": "v",
    "vdc": "v",
    "volts": "v",
    "ac": "ac",
    "vac": "ac",
    "r": "r",
    "ohm": "r",
    "ohms": "r",
    "Ω": "r",
    "d": "d",
    "diode": "d",
    "c": "c",
    "cap": "c",
    "esr": "esr",
    "a": "a",
    "amps": "a",
    "hz": "hz",
    "l": "l",
    "temp": "temp",
}
FLAG_WORDS = {
    "pulsing": "pulsing",
    "twitching": "pulsing",
    "creeping": "creeping",
    "shaky": "shaky",
    "steady": "",
    "lifted": "lifted",
    "removed": "removed",
    "lo-z": "lo-z",
    "loz": "lo-z",
    "low-z": "lo-z",
}
BOARD_FLAGS = frozenset({"lifted", "removed"})  # true of the whole line, not of one value in it
_HELD = ("max", "min", "every", "twin")
TAIL_WORDS = tuple(dict.fromkeys((*FUNCTION_WORDS, *FLAG_WORDS, *_HELD, "after", "to")))
_FUNCTION_OF = {"V": "v", "ohm": "r", "F": "c", "A": "a", "Hz": "hz", "H": "l", "C": "temp"}
_SUFFIXES = ("esr", "vac", "vdc", "ac", "dc", "hz", "d", "r", "v")
_NUMBERLIKE = re.compile(r"[(~]?[+-]?[.,]?[0-9]")
_RANGE = re.compile(r"(?P<a>.*[^.])\.\.(?P<b>[^.].*|\.[0-9].*)")


@dataclass
class Group:
    """One reading while it is gathered. numbers: field -> text of its value."""

    numbers: dict[str, str] = field(default_factory=dict)
    function: str | None = None
    flags: set[str] = field(default_factory=set)
    of_twin: bool = False
    shown: list[str] = field(default_factory=list)

    @property
    def has_value(self) -> bool:
        return bool(self.numbers.keys() & {"value", "lo"})


@dataclass
class Tail:
    """All readings of a line, and what holds for the whole of it."""

    groups: list[Group]
    flags: set[str]
    after: str


@dataclass(frozen=True)
class Measured:
    """One group in numbers. values: field of ReadingEntry -> SI value."""

    function: str | None
    values: dict[str, float]
    flags: frozenset[str]
    of_twin: bool
    shown: str


def looks_like_value(word: str) -> bool:
    """Whether the word starts like a number, or is one (OL, R47)."""
    plain = plain_signs(word)
    return bool(_NUMBERLIKE.match(plain)) or is_quantity(plain) or _split_suffix(plain) is not None


def gather(words: Sequence[str], is_part: Iterable[str]) -> Tail:
    """Sort the words after the place into readings. is_part: words that name a part here and so are no values.

    Raises EntryError or UnknownName.
    """
    parts = set(is_part)
    tail = Tail([], set(), "")
    at = 0
    while at < len(words):
        word, low = words[at], words[at].lower()
        if low == "after":
            tail.after = " ".join(words[at + 1 :])
            if not tail.after:
                raise EntryError("after what? write it like `after tap K1`")
            break
        if word not in parts and looks_like_value(word) and low not in TAIL_WORDS:
            at += _take_value(tail, words, at)
        else:
            at += _take_word(tail, words, at, parts)
    return tail


def _take_value(tail: Tail, words: Sequence[str], at: int) -> int:
    """A value opens a new reading, unless the one at hand only has its held extremes so far."""
    word = words[at]
    group = tail.groups[-1] if tail.groups and not tail.groups[-1].has_value else _new_group(tail)
    used = 1
    plain = plain_signs(word)
    if ">" in plain:
        first, _, last = plain.partition(">")
        group.numbers.update(first=first, value=last)
        if at + 1 < len(words) and is_quantity(words[at + 1], "s") and not _bare(words[at + 1]):
            group.numbers["within"] = words[at + 1]
            used = 2
    elif wander := _RANGE.fullmatch(plain):
        group.numbers.update(lo=wander["a"], hi=wander["b"])
        group.flags.add("pulsing")
    elif "/" in plain:
        one, _, other = plain.partition("/")
        group.numbers.update(value=one, value2=other)
    else:
        if (
            at + 1 < len(words)
            and _bare(word)
            and not is_quantity(words[at + 1])
            and is_quantity(f"{word} {words[at + 1]}")
            and words[at + 1].lower() not in FUNCTION_WORDS
        ):
            plain, used = f"{plain} {words[at + 1]}", 2  # the meter's own blank, as in 4.70 kohm
        group.numbers["value"] = plain
    group.shown += words[at : at + used]
    return used


def _bare(word: str) -> bool:
    return re.fullmatch(r"[~]?[+-]?[0-9.,]+", plain_signs(word)) is not None


def _take_word(tail: Tail, words: Sequence[str], at: int, parts: set[str]) -> int:
    word, low = words[at], words[at].lower()
    if low in FLAG_WORDS:
        flag = FLAG_WORDS[low]
        target = tail.flags if flag in BOARD_FLAGS or not tail.groups else tail.groups[-1].flags
        target.update({flag} - {""})
        return 1
    if low in FUNCTION_WORDS:
        after = words[at + 1] if at + 1 < len(words) else ""
        return _take_function(tail, word, FUNCTION_WORDS[low], ahead=after not in parts and looks_like_value(after))
    if low in _HELD:
        return _take_held(tail, words, at, parts)
    if low == "to":
        raise EntryError("`to` comes right after the first lead's place, like `U3.k to 0V 13.4`")
    if word in parts:
        raise EntryError(f"{word!r} names a part here; black needs `to`, as in `to {word}.1`; the value R27 is written 0R27")
    raise UnknownName("word", word, TAIL_WORDS)


def _take_function(tail: Tail, word: str, function: str, *, ahead: bool) -> int:
    """The function of the reading at hand; of the one that follows where none has begun or this one has its own. ahead: a value follows."""
    if not tail.groups and not ahead:
        raise EntryError(f"{word!r} has no value; write it like `0.58 {word}`")
    began = bool(tail.groups) and not (ahead and tail.groups[-1].function is not None and tail.groups[-1].has_value)
    group = tail.groups[-1] if began else _new_group(tail)
    if group.function not in (None, function):
        raise EntryError(f"one value cannot be both {group.function} and {function}; leave one out")
    group.function = function
    group.shown.append(word)
    return 1


def _take_held(tail: Tail, words: Sequence[str], at: int, parts: set[str]) -> int:
    low = words[at].lower()
    group = tail.groups[-1] if tail.groups else _new_group(tail)
    after = words[at + 1] if at + 1 < len(words) else ""
    has_number = after not in parts and after.lower() not in TAIL_WORDS and looks_like_value(after)
    if low == "twin" and not has_number:
        group.of_twin = True
        return 1
    if not has_number:
        raise EntryError(f"{low} wants its value, like `{low} {'1.1s' if low == 'every' else '17.2'}`")
    if low in group.numbers:
        raise EntryError(f"{low} stands twice for one reading; give the other reading its own line")
    group.numbers[low] = words[at + 1]
    if low == "every":
        group.flags.add("pulsing")
    group.shown += words[at : at + 2]
    return 2


def _new_group(tail: Tail) -> Group:
    tail.groups.append(Group())
    return tail.groups[-1]


def measure(group: Group, default: str | None) -> Measured:
    """The group's numbers in SI. default: function of a value that says nothing itself; None: the job asks.

    Raises EntryError for units that do not go together, InputError for a value that is none.
    """
    if not group.numbers:
        raise EntryError("the line has no value; write it like `vcc 9.3 twin 9.1`")
    numbers = dict(group.numbers)
    said = {group.function} if group.function else set()
    for name in numbers.keys() - {"within", "every"}:
        split = _split_suffix(numbers[name])
        if split is not None:
            numbers[name], own = split
            said.add(own)
    if len(said) > 1:
        raise EntryError(f"{' '.join(group.shown)!r} mixes {' and '.join(sorted(said))}; one function a value")
    function = said.pop() if said else _by_unit(group, numbers, default)
    want = UNIT_OF[function] if function else None
    values: dict[str, float] = {}
    flags = set(group.flags)
    for name, text in numbers.items():
        quantity = parse_quantity(text, "s" if name in ("within", "every") else want)
        flags |= {"shaky"} if quantity.doubtful or quantity.about else set()
        values[name] = quantity.value
    _check_times(values)
    return Measured(function, values, frozenset(flags), group.of_twin, " ".join(group.shown))


def _by_unit(group: Group, numbers: dict[str, str], default: str | None) -> str | None:
    """A unit settles the function; else the default holds, also where it shows the very same unit (ESR in ohms)."""
    found: set[str] = set()
    for name in numbers.keys() - {"within", "every"}:
        quantity = _without_want(numbers[name])
        if quantity is None or not quantity.unit:
            continue
        own = _FUNCTION_OF.get(quantity.unit)
        if own is None:
            raise EntryError(f"{numbers[name]!r} is nothing a meter shows here; write volts, ohms, farads, amps or hertz")
        if quantity.mark == "ac" and own == "v":
            own = "ac"
        elif quantity.mark != "dc" and default is not None and UNIT_OF.get(default) == quantity.unit:
            own = default
        found.add(own)
    if len(found) > 1:
        raise EntryError(f"{' '.join(group.shown)!r} mixes {' and '.join(sorted(found))}; one function a value")
    return found.pop() if found else default


def _without_want(text: str) -> Quantity | None:
    """The value by itself; None where only the function can tell (20m)."""
    try:
        return parse_quantity(text)
    except InputError:
        return None


def _split_suffix(text: str) -> tuple[str, str] | None:
    """0.12esr, 0.58d, OLr: (value, function), for endings that are no unit."""
    if is_quantity(text):
        return None
    low = text.lower()
    for suffix in _SUFFIXES:
        head = text[: -len(suffix)]
        if low.endswith(suffix) and head and is_quantity(head, UNIT_OF[FUNCTION_WORDS.get(suffix, suffix)]):
            return head, FUNCTION_WORDS.get(suffix, suffix)
    return None


def _check_times(values: dict[str, float]) -> None:
    for name in ("within", "every"):
        if name in values and not 0 < values[name] < float("inf"):
            raise EntryError(f"a time of {values[name]:g} s is none; write it like 1.1s")
    if "lo" in values and values["lo"] > values["hi"]:
        values["lo"], values["hi"] = values["hi"], values["lo"]
