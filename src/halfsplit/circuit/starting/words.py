"""The `start:` line in words: clauses, the sizes in them, and the words that are left over."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from halfsplit.errors import InputError, UnknownName
from halfsplit.units import parse_quantity, parse_ratings, plain_signs

_KINDS = {"V": "volts", "A": "amps", "W": "watts", "C": "celsius", "F": "farads", "ohm": "ohms"}
_NUMBER = r"\d+(?:[.,]\d+)?"
_PAIR = re.compile(rf"(?P<on>{_NUMBER}) ?[Vv]? ?/ ?(?P<off>{_NUMBER}) ?[Vv](?![A-Za-z0-9])")
_BOTH = re.compile(rf"(?:\+/?-|±) ?(?P<size>{_NUMBER} ?[Vv])(?![A-Za-z0-9])")
_COUNT = re.compile(r"(?<![\w.,])(\d{1,2}) ?(?=(?:leds?|groups?|strings?)(?![\w-]))", re.IGNORECASE)
_FILLERS = frozenset("a an the with and of for at supply board type about".split())


@dataclass(frozen=True)
class Size:
    """One size in a clause. kind: "volts", "amps" ..., "count" of what follows it; second: what stood after the slash (16/10V); both: a +- sign."""

    kind: str
    value: float
    second: float | None = None
    both: bool = False
    negative: bool = False


@dataclass(frozen=True)
class Clause:
    """One clause of the line: its text as typed, its words (lower case, fillers dropped) and its sizes."""

    text: str
    words: tuple[str, ...]
    sizes: tuple[Size, ...]

    def size(self, kind: str) -> float | None:
        """The first size of this kind, None when there is none."""
        return next((s.value for s in self.sizes if s.kind == kind), None)

    def has(self, *words: str) -> bool:
        """Whether all of these words stand in the clause."""
        return all(w in self.words for w in words)


def clauses(line: str) -> tuple[Clause, ...]:
    """The clauses of a start line: parted by ; : or a comma that isn't a decimal comma. What stands in brackets is a remark."""
    bare = plain_signs(re.sub(r"\([^)]*\)", " ", line))
    pieces = re.split(r"[;:]|,(?!\d)|(?<!\d),", bare)
    return tuple(_clause(p.strip()) for p in pieces if p.strip())


def _clause(text: str) -> Clause:
    pairs = tuple(_pair(m, text) for m in _PAIR.finditer(text))
    both = tuple(_size(m["size"], "V", text, both=True) for m in _BOTH.finditer(text))
    found = parse_ratings(_COUNT.sub(" ", _BOTH.sub(" ", _PAIR.sub(" ", text))))
    sizes = [Size("count", float(m[1])) for m in _COUNT.finditer(text)]
    for q in found.quantities:
        if q.unit not in _KINDS:
            raise InputError(f"start: {text!r} holds a size in {q.unit}, which no starting sheet asks for; take it out")
        sizes.append(Size(_KINDS[q.unit], _above_zero(abs(q.value), text), negative=q.value < 0))
    words = tuple(w for w in (t.strip("./").lower() for t in found.words) if w and w not in _FILLERS)
    return Clause(text, words, (*pairs, *both, *sizes))


def _pair(m: re.Match[str], text: str) -> Size:
    on, off = (_size(m[name], "V", text).value for name in ("on", "off"))
    return Size("volts", on, second=off)


def _size(number: str, unit: str, text: str, both: bool = False) -> Size:
    return Size(_KINDS[unit], _above_zero(parse_quantity(number, unit).value, text), both=both)


def _above_zero(value: float, text: str) -> float:
    if not 0 < value < float("inf"):
        raise InputError(f"start: a size in {text!r} must be above 0 and not open; write it as it is printed on the unit")
    return value


def refuse_leftovers(clause: Clause, known: Iterable[str], allowed: Iterable[str] = ()) -> None:
    """Raise UnknownName for the first word of the clause that nobody knows; `known` is what is shown, `allowed` passes too."""
    known = tuple(known)
    passes = {w for k in known for w in k.split()} | set(allowed)
    for word in clause.words:
        if word not in passes:
            raise UnknownName("start word", word, known)
