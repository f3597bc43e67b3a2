"""The `parts` lines: `REF[+REF][//REF] place-or-family value ratings [, pin=net ...]` and `no mov`."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from halfsplit.circuit.model import Part
from halfsplit.circuit.notation import (
    Families,
    Spec,
    check_part_name,
    check_words,
    family_for,
    family_words,
    fill_part,
    pin_name,
    read_spec,
    remark_values,
)
from halfsplit.circuit.sheet import Item, SheetText
from halfsplit.parts.base import Family
from halfsplit.units import is_quantity


@dataclass(frozen=True)
class Binding:
    """Designators given to a place of a starting sheet. join: "series", "parallel" or None. specs: one for each ref.

    pins: only what was written. What the values mean is settled when the placed part's family is known.
    """

    refs: tuple[str, ...]
    place: str
    specs: tuple[Spec, ...]
    position: Item
    join: str | None = None
    pins: tuple[tuple[str, str], ...] = ()
    remarks: tuple[str, ...] = ()
    doubtful: bool = False


@dataclass(frozen=True)
class PartLines:
    """What the parts lines say. absent: looked, isn't there. positions: ref -> where it stands."""

    parts: tuple[Part, ...] = ()
    bindings: tuple[Binding, ...] = ()
    absent: tuple[Item, ...] = ()
    positions: Mapping[str, Item] = field(default_factory=dict)


def parts_from_sheet(
    sheet: SheetText, families: Families, places: Collection[str] = (), synonyms: Mapping[str, str] | None = None
) -> PartLines:
    """Parts, bindings and absences of the parts lines.

    Parameters: places of the starting sheet, and its trade words for them. Raises: SheetError, UnknownName.
    """
    known = {p.lower(): p for p in places}
    words = {**{w.lower(): p for w, p in (synonyms or {}).items() if p.lower() in known}, **known}
    parts: list[Part] = []
    bindings: list[Binding] = []
    absent: list[Item] = []
    positions: dict[str, Item] = {}
    for item in sheet.parts:
        if said := re.fullmatch(r"no +(\S.*)", item.text, re.IGNORECASE):
            absent.append(replace(item, text=said[1].strip().lower()))
            continue
        entry = _entry(item)
        for ref in entry.refs:
            if ref in positions:
                raise item.fault(f"{ref} stands here a second time (first in line {positions[ref].line}); put both together")
            positions[ref] = item
        place, rest = _place(entry.words, words)
        if place is not None:
            bindings.append(_binding(entry, place, rest))
        else:
            parts += _plain(entry, families, words)
    _once(bindings)
    return PartLines(tuple(parts), tuple(bindings), tuple(absent), positions)


@dataclass(frozen=True)
class _Entry:
    refs: tuple[str, ...]
    join: str | None
    words: tuple[str, ...]
    pins: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]
    item: Item
    doubtful: bool


def _entry(item: Item) -> _Entry:
    """One entry cut into its pieces; commas separate, except between digits (4,7k)."""
    head, *tail = _segments(item.text)
    tokens = re.sub(r" *(//) *", r"\1", head).split()
    if not tokens:
        raise item.fault("no designator stands before the comma; write it like `C5 bulk-cap 68u 400V`")
    joined, doubtful = tokens[0].removesuffix("?"), tokens[0].endswith("?")
    join = "parallel" if "//" in joined else "series" if "+" in joined else None
    refs = tuple(re.split(r"//|\+", joined))
    for ref in refs:
        check_part_name(ref, item)
    if "//" in joined and "+" in joined:
        raise item.fault(f"{joined!r} mixes + and //; write two entries")
    pins: list[tuple[str, str]] = []
    remarks: list[str] = []
    words: list[str] = []
    for index, segment in enumerate([" ".join(tokens[1:]), *tail]):
        plain: list[str] = []
        for token in segment.split():
            hit = re.fullmatch(r"(?P<pin>[^=]+)=(?P<net>[^=]+)", token)
            if hit:
                pins.append((hit["pin"], hit["net"]))
            elif "=" in token:
                raise item.fault(f"{token!r} is no pin and net; write it like in=+24")
            else:
                plain.append(token)
        if index == 0:
            words = plain
        elif plain:
            remarks.append(" ".join(plain))
    return _Entry(refs, join, tuple(words), tuple(pins), tuple(remarks), item, doubtful)


def _segments(text: str) -> list[str]:
    """Commas separate; between digits one is a decimal comma (4,7k), but never in pin=net."""
    out, begin = [], 0
    for hit in re.finditer(",", text):
        token = text[begin : hit.start()].split(" ")[-1]
        if "=" in token or not re.fullmatch(r"[0-9],[0-9]", text[max(hit.start() - 1, 0) : hit.end() + 1]):
            out.append(text[begin : hit.start()].strip())
            begin = hit.end()
    return [*out, text[begin:].strip()]


def _place(words: tuple[str, ...], known: Mapping[str, str]) -> tuple[str | None, tuple[str, ...]]:
    """The place that the first words name (up to three words), and what is left of them."""
    for count in (3, 2, 1):
        said = " ".join(words[:count]).lower()
        if len(words) >= count and said in known:
            return known[said], words[count:]
    if words and words[0].lower().endswith("-pair") and any(k.startswith(words[0].lower()[:-4]) for k in known):
        return words[0].lower(), words[1:]
    return None, words


def _specs(entry: _Entry, words: tuple[str, ...]) -> tuple[Spec, ...]:
    """What is written for each designator: 220k+220k one by one, `each` the same for all."""
    count = len(entry.refs)
    texts = [list(words) for _ in range(count)]
    shared = False
    for index, word in enumerate(words):
        pieces = word.split("+")
        if len(pieces) > 1 and all(is_quantity(p) for p in pieces):
            if len(pieces) != count:
                raise entry.item.fault(f"{word!r} holds {len(pieces)} values for {count} parts; give one for each")
            for text, piece in zip(texts, pieces):
                text[index] = piece
            shared = True
    specs = tuple(read_spec(" ".join(text), entry.item) for text in texts)
    if count > 1 and specs[0].quantities and not shared and "each" not in specs[0].words:
        value = next(w for w in words if is_quantity(w) or w[:1].isdigit())
        raise entry.item.fault(f"one value for {count} parts; write {'+'.join([value] * count)}, or {value} each")
    return specs


def _binding(entry: _Entry, place: str, words: tuple[str, ...]) -> Binding:
    return Binding(entry.refs, place, _specs(entry, words), entry.item, entry.join, entry.pins, entry.remarks, entry.doubtful)


def _plain(entry: _Entry, families: Families, places: Mapping[str, str]) -> list[Part]:
    """Parts of their own, not of a place."""
    known = family_words(families)
    specs = _specs(entry, entry.words)
    for spec in specs:
        check_words(spec, {**dict.fromkeys(places.values(), ""), **places, **known}, entry.item)
    if entry.join and entry.pins:
        raise entry.item.fault("several parts cannot share one list of pins; write an entry for each")
    out = []
    for ref, spec in zip(entry.refs, specs):
        family = family_for(ref, spec, families, entry.item)
        doubts = frozenset({"part"}) if entry.doubtful else frozenset()
        bare = Part(ref=ref, family=family.name, pins={}, words=entry.item.text, doubts=doubts)
        part = fill_part(bare, family, spec, entry.item)
        for remark in entry.remarks:
            part = remark_values(part, family, remark, entry.item)
        out.append(with_pins(part, family, entry.pins, entry.item))
    return out


def with_pins(part: Part, family: Family, pins: tuple[tuple[str, str], ...], item: Item) -> Part:
    """The part with the written pins on their nets; a net with ? is a doubtful pin. Raises UnknownName, SheetError."""
    placed: dict[str, str] = {}
    doubts = set(part.doubts)
    for raw, net in pins:
        pin = pin_name(raw, family, placed, item)
        if pin in placed:
            raise item.fault(f"{part.ref}: pin {pin} stands twice; a pin sits on one net")
        placed[pin] = net.rstrip("?")
        if not placed[pin]:
            raise item.fault(f"{part.ref}: no net after {raw}=; write it like {raw}=+24")
        if net.endswith("?"):
            doubts.add(f"pin:{pin}")
    return replace(part, pins={**part.pins, **placed}, doubts=frozenset(doubts))


def _once(bindings: list[Binding]) -> None:
    seen: dict[str, Binding] = {}
    for binding in bindings:
        if binding.place in seen:
            first = seen[binding.place]
            raise binding.position.fault(
                f"{binding.place} is already {'+'.join(first.refs)} (line {first.position.line}); join them with + or //"
            )
        seen[binding.place] = binding
