"""What stands on the bench: the meter, the lamps, the isolation transformer. A small YAML file in the bench's own words.

What the file leaves out is not there; a value with a question mark is not there either. Only how accurate a meter
reads may be assumed, because no hand depends on it.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

import yaml

from halfsplit.errors import InputError, SheetError
from halfsplit.units import Quantity, parse_quantity

FUNCTIONS = {"v": "V", "ac": "V", "r": "ohm", "d": "V", "c": "F", "esr": "ohm", "hz": "Hz"}
_NONE = {"none", "no", "-", ""}


@dataclass(frozen=True)
class Range:
    """One function of a meter. percent: fraction of reading; digits: of the last place; tops: full scale of each range."""

    percent: float
    digits: float
    tops: tuple[float, ...]

    @property
    def limit(self) -> float:
        """Above this the display says OL."""
        return self.tops[-1]


@dataclass(frozen=True)
class Kit:
    """One bench. rating: what the meter's inputs stand [V]; category: measurement category, 2..4; ohms: input resistance [ohm].

    counts: full display. volts and so on: Range by function. hold: shortest peak that max/min catch [s], None without.
    lamps [W]; isolation [VA]; supply (volts, amps); tool_ohms, tool_watts: discharge tool.
    None: there is none, or it is not sure.
    """

    rating: float | None
    category: int | None
    ohms: float = 10e6
    counts: int = 4000
    ranges: Mapping[str, Range] = field(default_factory=dict)
    hold: float | None = None
    lamps: tuple[float, ...] = ()
    isolation: float | None = None
    supply: tuple[float, float] | None = None
    tool_ohms: float | None = None
    tool_watts: float | None = None
    doubts: tuple[str, ...] = ()

    def error(self, function: str, value: float) -> float:
        """Largest error of a reading by the meter's own data, in the reading's unit: percent of it and digits of its range."""
        span = self._range(function)
        top = next((top for top in span.tops if abs(value) <= top), span.limit)
        return span.percent * abs(value) + span.digits * top / self.counts

    def limit(self, function: str) -> float:
        """Readings above this show OL."""
        return self._range(function).limit

    def _range(self, function: str) -> Range:
        key = {"max": "v", "min": "v"}.get(function, function)
        if key not in self.ranges:
            raise InputError(f"this bench cannot read {function!r}; it reads {', '.join(sorted(functions_available(self)))}")
        return self.ranges[key]


def functions_available(kit: Kit) -> frozenset[str]:
    """Functions this bench can read: v ac r d c esr hz, and max min where the meter holds peaks."""
    held = {"max", "min"} if kit.hold is not None and "v" in kit.ranges else set()
    return frozenset(kit.ranges) | frozenset(held)


# Typical of a hand-held 4000-count meter (common practice; DC +-0.5 % and a few counts, common practice in the trade page)
_TYPICAL = {
    "v": Range(0.005, 3, (0.4, 4, 40, 400, 1000)),
    "ac": Range(0.01, 5, (4, 40, 400, 750)),
    "r": Range(0.008, 3, (400, 4e3, 4e4, 4e5, 4e6, 4e7)),
    "d": Range(0.01, 3, (2.0,)),
    "c": Range(0.03, 5, (4e-8, 4e-7, 4e-6, 4e-5, 4e-4)),
    "esr": Range(0.03, 2, (1.0, 10.0, 100.0)),
    "hz": Range(0.001, 2, (4e3, 4e4, 4e5)),
}


def default_kit() -> Kit:
    """A bench of which nobody has said anything: a plain meter, no isolation, no lamp, no supply. Keeps to cold work."""
    return Kit(rating=None, category=None, ranges={f: _TYPICAL[f] for f in ("v", "ac", "r", "d")})


# ---- the file

_METER_KEYS = ("stands", "input", "counts", "v", "ac", "r", "d", "c", "hz", "hold")
_KEYS = ("meter", "esr meter", "capacitance meter", "lamps", "isolation transformer", "bench supply", "discharge tool")


@dataclass(frozen=True)
class _Entry:
    text: str
    line: int


def read_kit(text: str, *, name: str = "bench-kit") -> Kit:
    """The bench in a kit file. Raises SheetError with the line for anything that can't be read."""
    entries = _entries(text, name)
    reader = _Reader(name)
    ranges = {f: reader.accuracy(entries, f"meter/{f}", f) for f in ("v", "ac", "r", "d", "c", "hz")}
    ranges["esr"] = reader.accuracy(entries, "esr meter", "esr")
    if "capacitance meter" in entries:
        ranges["c"] = reader.accuracy(entries, "capacitance meter", "c")
    rating, category = reader.stands(entries.get("meter/stands"))
    supply = reader.two(entries.get("bench supply"), "bench supply", "V", "A")
    tool = reader.two(entries.get("discharge tool"), "discharge tool", "ohm", "W")
    ohms = reader.one(entries.get("meter/input"), "input", "ohm")
    return Kit(
        rating=rating,
        category=category,
        ohms=10e6 if ohms is None else ohms,
        counts=reader.counts(entries.get("meter/counts")),
        ranges={f: r for f, r in ranges.items() if r is not None},
        hold=reader.one(entries.get("meter/hold"), "hold", "s"),
        lamps=reader.lamps(entries.get("lamps")),
        isolation=reader.one(entries.get("isolation transformer"), "isolation transformer", "VA"),
        supply=supply,
        tool_ohms=tool[0] if tool else None,
        tool_watts=tool[1] if tool else None,
        doubts=tuple(reader.doubts),
    )


def _entries(text: str, name: str) -> dict[str, _Entry]:
    """key -> its text and line; keys of the meter as meter/key."""
    if "\t" in text:
        at = text[: text.index("\t")].count("\n") + 1
        raise SheetError("a tab stands here; use blanks", line=at, name=name)
    try:
        root = yaml.compose(text, Loader=yaml.BaseLoader)
    except yaml.YAMLError as bad:
        mark = getattr(bad, "problem_mark", None)
        raise SheetError(
            "this line can't be read; write `key: value`, one a line, and a blank after the colon",
            line=None if mark is None else mark.line + 1,
            name=name,
        ) from None
    if not isinstance(root, yaml.MappingNode):
        raise SheetError("a kit file holds lines `key: value`; the first key is meter", line=1, name=name)
    out: dict[str, _Entry] = {}
    for key, value in _pairs(root, _KEYS, name):
        if key == "meter" and isinstance(value, yaml.MappingNode):
            inner = _pairs(value, _METER_KEYS, name)
            out.update({f"meter/{k}": _scalar(k, v, name) for k, v in inner})
        elif key == "meter":
            raise SheetError(
                "under meter stand lines of their own: stands, input, v, ac, r ...", line=value.start_mark.line + 1, name=name
            )
        else:
            out[key] = _scalar(key, value, name)
    return out


def _pairs(node: yaml.MappingNode, known: tuple[str, ...], name: str) -> list[tuple[str, yaml.Node]]:
    seen: dict[str, int] = {}
    out: list[tuple[str, yaml.Node]] = []
    for key_node, value in node.value:
        line = key_node.start_mark.line + 1
        key = " ".join(str(key_node.value).lower().split()) if isinstance(key_node, yaml.ScalarNode) else "?"
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]}?" if near else "known: " + ", ".join(known)
            raise SheetError(f"no key {key!r} in a kit file; {hint}", line=line, name=name)
        if key in seen:
            raise SheetError(f"{key!r} stands twice, first in line {seen[key]}; keep one", line=line, name=name)
        seen[key] = line
        out.append((key, value))
    return out


def _scalar(key: str, node: yaml.Node, name: str) -> _Entry:
    line = node.start_mark.line + 1
    if not isinstance(node, yaml.ScalarNode):
        raise SheetError(f"{key!r} takes one line of text, not a list or a block", line=line, name=name)
    return _Entry(str(node.value).strip(), line)


class _Reader:
    """Reads the texts of one file; collects what was written with a question mark."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.doubts: list[str] = []

    def fail(self, entry: _Entry, text: str) -> SheetError:
        return SheetError(text, line=entry.line, name=self.name)

    def one(self, entry: _Entry | None, key: str, unit: str) -> float | None:
        """One value above 0; None where there is none or it is doubted."""
        if entry is None or entry.text.lower() in _NONE:
            return None
        return self._value(entry, key, self._quantity(entry, entry.text, unit))

    def two(self, entry: _Entry | None, key: str, first: str, second: str) -> tuple[float, float] | None:
        if entry is None or entry.text.lower() in _NONE:
            return None
        words = entry.text.replace(",", " ").split()
        if len(words) != 2:
            raise self.fail(
                entry, f"{key} {entry.text!r}: two values are wanted, like {'2k2 10W' if first == 'ohm' else '30V 3A'}"
            )
        pair = [self._value(entry, key, self._quantity(entry, w, u)) for w, u in zip(words, (first, second), strict=True)]
        return None if pair[0] is None or pair[1] is None else (pair[0], pair[1])

    def lamps(self, entry: _Entry | None) -> tuple[float, ...]:
        if entry is None or entry.text.lower() in _NONE:
            return ()
        found = [
            self._value(entry, "lamps", self._quantity(entry, word, "W")) for word in re.split(r"[,\s]+", entry.text) if word
        ]
        return tuple(sorted({watts for watts in found if watts is not None}))

    def counts(self, entry: _Entry | None) -> int:
        if entry is None:
            return 4000
        if not entry.text.isdigit() or not 1000 <= int(entry.text) <= 1_000_000:
            raise self.fail(entry, f"counts {entry.text!r}: the full display is wanted, like 2000, 4000 or 6000")
        return int(entry.text)

    def stands(self, entry: _Entry | None) -> tuple[float | None, int | None]:
        """ "CAT III 600V": what the meter's inputs stand."""
        if entry is None:
            raise SheetError("meter: `stands` is missing; read it beside the sockets, like CAT III 600V", name=self.name)
        said = re.fullmatch(r"cat\s*(I{1,3}|IV|[1-4])\s*[,/]?\s*([0-9.]+\s*k?V\s*\??)", entry.text, flags=re.IGNORECASE)
        if said is None:
            raise self.fail(entry, f"stands {entry.text!r}: write it as beside the sockets, like CAT III 600V")
        volts = self._value(entry, "stands", self._quantity(entry, said[2], "V"))
        roman = {"i": 1, "ii": 2, "iii": 3, "iv": 4}
        category = roman.get(said[1].lower()) or int(said[1])
        if category < 2:
            raise self.fail(
                entry, f"stands {entry.text!r}: CAT I is not for circuits that hang on the mains; CAT II at least is wanted"
            )
        return volts, category

    def accuracy(self, entries: Mapping[str, _Entry], key: str, function: str) -> Range | None:
        """A text like 0.5% + 3, to 600V; or none. What is left out is as usual; v ac r d are there unless told otherwise."""
        entry = entries.get(key)
        usual = _TYPICAL[function]
        if entry is None:
            return usual if function in ("v", "ac", "r", "d") else None
        if entry.text.lower() in _NONE:
            return None
        said = re.fullmatch(
            r"(?P<p>[0-9.]+)\s*%\s*(?:\+\s*(?P<d>[0-9]+))?\s*(?:,?\s*to\s+(?P<tops>.+))?", entry.text, flags=re.IGNORECASE
        )
        if said is None or said["p"].count(".") > 1:
            raise self.fail(
                entry, f"{key} {entry.text!r}: write percent of reading, digits and top of range, like 0.5% + 3, to 600V"
            )
        tops = self._tops(entry, said["tops"], function) if said["tops"] else usual.tops
        percent = float(said["p"]) / 100
        if not percent < 0.5:
            raise self.fail(entry, f"{key} {entry.text!r}: {said['p']} % of reading is no meter; check the number")
        return Range(percent, float(said["d"] or 0), tops)

    def _tops(self, entry: _Entry, text: str, function: str) -> tuple[float, ...]:
        unit = FUNCTIONS[function]
        found = [self._quantity(entry, word, unit).value for word in re.split(r"[,\s]+", text.strip()) if word]
        if not all(math.isfinite(top) and top > 0 for top in found):
            raise self.fail(entry, f"top of range {text!r} must be above 0 and finite")
        if len(found) == 1:  # only the last is told: the ranges below it are in tens
            below = [found[0] / 10**k for k in range(1, 7)]
            return tuple(sorted([top for top in below if top >= _TYPICAL[function].tops[0] / 10] + found))
        return tuple(sorted(found))

    def _quantity(self, entry: _Entry, word: str, unit: str) -> Quantity:
        try:
            return parse_quantity(word, unit)
        except InputError as bad:
            raise self.fail(entry, str(bad)) from None

    def _value(self, entry: _Entry, key: str, quantity: Quantity) -> float | None:
        if quantity.doubtful or quantity.about:
            self.doubts.append(key)
            return None
        if not (math.isfinite(quantity.value) and quantity.value > 0):
            raise self.fail(entry, f"{key} {entry.text!r}: a value above 0 is wanted, or none")
        return quantity.value
