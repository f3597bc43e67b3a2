"""Walking ways: what was traced along the copper becomes parts between nets."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from halfsplit.circuit.model import Circuit, Part
from halfsplit.circuit.notation import Families, family_for, fill_part, letters_of, pin_name, pin_pair, read_spec
from halfsplit.circuit.sheet import Item
from halfsplit.circuit.way_items import WayItem, cut_way
from halfsplit.errors import SheetError
from halfsplit.parts.base import Family


@dataclass
class _Board:
    """What is being put together. auto: joints that nobody named. same: net -> the net it turned out to be.

    walked: (part, pin) -> the line where a way passed it.
    """

    families: Families
    parts: dict[str, Part]
    places: dict[str, str]
    auto: set[str] = field(default_factory=set)
    same: dict[str, str] = field(default_factory=dict)
    walked: dict[tuple[str, str], int] = field(default_factory=dict)

    def net(self, name: str) -> str:
        while name in self.same:
            name = self.same[name]
        return name

    def find(self, name: str) -> Part | None:
        """The part with this designator or place, case ignored."""
        if name in self.parts:
            return self.parts[name]
        low = {**{p.lower(): r for p, r in self.places.items()}, **{r.lower(): r for r in self.parts}}
        ref = low.get(name.lower())
        return self.parts[ref] if ref is not None else None


def ways_into(circuit: Circuit, ways: Iterable[Item], families: Families) -> Circuit:
    """The circuit with everything that the ways pass.

    Raises: SheetError with line and column; UnknownName for a word, pin or kind of part that nobody knows.
    """
    board = _Board(families, {p.ref: p for p in circuit.parts}, {p.place: p.ref for p in circuit.parts if p.place})
    for line in ways:
        _walk(board, cut_way(line, lambda name: board.find(name) is not None and name not in circuit.nets))
    parts = tuple(replace(p, pins={pin: board.net(net) for pin, net in p.pins.items()}) for p in board.parts.values())
    return circuit.with_parts(parts)


def _walk(board: _Board, items: list[WayItem]) -> None:
    """One line: either `A // B C` (B and C across A) or a run of nets and parts, cut at every gap."""
    if len(items) == 1:
        raise items[0].item.fault("a way is a net, a part, a net; write what lies beyond, or `...`", items[0].offset)
    if len(items) > 1 and items[1].kind == "across":
        start, end = _across(board, items[0])
        if len(items) < 3:
            raise items[1].item.fault("nothing stands after //; write what lies across", items[1].offset)
        _run(board, items[2:], start, end)
        return
    stretch: list[WayItem] = []
    open_start = False
    for item in items:
        if item.kind == "gap":
            _stretch(board, stretch, open_start, True)
            stretch, open_start = [], True
        else:
            stretch.append(item)
    _stretch(board, stretch, open_start, False)


def _stretch(board: _Board, items: list[WayItem], open_start: bool, open_end: bool) -> None:
    """A run without a gap; `C1 // R2` inside it puts the one item behind // across the one before. open_start, open_end: something that
    wasn't traced lies there, so that a part may stand at that end with one leg on a net of its own."""
    plain: list[WayItem] = []
    beside: list[tuple[WayItem, WayItem]] = []
    index = 0
    while index < len(items):
        if items[index].kind == "across":
            if not plain or index + 1 >= len(items):
                raise items[index].item.fault("// stands between two parts; write C1 // R2", items[index].offset)
            beside.append((plain[-1], items[index + 1]))
            index += 1
        else:
            plain.append(items[index])
        index += 1
    if len(plain) == 1:
        _lone(board, plain[0])
    elif plain:
        start = _joint(board, "...", plain[0].name) if open_start and _passes(board, plain[0]) else None
        end = _joint(board, plain[-1].name, "...") if open_end and _passes(board, plain[-1]) else None
        _run(board, plain, start, end)
    for first, second in beside:
        start, end = _across(board, first)
        _run(board, [second], start, end)


def _passes(board: _Board, item: WayItem) -> bool:
    """Whether the way passes through this item, a part with two legs, and doesn't end on a net or a pin."""
    if item.kind in ("net", "across"):
        return False
    part = _part(board, item)
    return not isinstance(_pair(part, item, board.families[part.family]), str)


def _lone(board: _Board, item: WayItem) -> None:
    """One item between gaps says only that it is there."""
    if item.kind == "part" and item.spec is not None:
        _part(board, item)


def _across(board: _Board, item: WayItem) -> tuple[str, str]:
    """The two nets that a part walked earlier lies between."""
    if item.kind != "part":
        raise item.item.fault(f"{item.name}: // goes across a part, not a net", item.offset)
    part = _part(board, item)
    pair = _pair(part, item, board.families[part.family])
    if not isinstance(pair, tuple) or any(pin not in part.pins for pin in pair):
        raise item.item.fault(f"{part.ref} has not been walked yet; walk it first, then say what lies across it", item.offset)
    return part.pins[pair[0]], part.pins[pair[1]]


def _pair(part: Part, item: WayItem, family: Family) -> tuple[str, str] | str:
    """The legs that are passed, in their order; or the single pin."""
    if not item.legs:
        if len(family.pins) == 2:
            return family.pins[0], family.pins[1]
        raise item.item.fault(
            f"{part.ref} has {len(family.pins)} legs ({' '.join(family.pins)}); say the two you pass, like Q1.ce", item.offset
        )
    pair = pin_pair(item.legs, family)
    if pair is not None:
        return pair
    return pin_name(item.legs, family, {}, item.item)


def _part(board: _Board, item: WayItem) -> Part:
    """The part of an item, made on first sight, with what its brackets say."""
    here = replace(item.item, column=item.item.column + item.offset)
    spec = read_spec(item.spec or "", here)
    old = board.find(item.name)
    if old is None:
        try:
            family = family_for(item.name, spec, board.families, here)
        except SheetError:
            if any(letters_of(item.name) in f.letters for f in board.families.values()):
                raise
            raise here.fault(
                f"{item.name} looks like a part, but nothing says what it is; write {item.name}(resistor 10k), "
                "or give the net a name that is not letters and digits"
            ) from None
        old = Part(ref=item.name, family=family.name, pins={}, words=item.spec or "")
    part = fill_part(old, board.families[old.family], spec, here)
    if item.doubtful and not item.legs:
        part = replace(part, doubts=part.doubts | {"part"})
    board.parts[part.ref] = part
    return part


def _run(board: _Board, items: list[WayItem], start: str | None, end: str | None) -> None:
    """Nets and parts one after the other, from start to end where these are given."""
    node, previous = start, ""
    for index, item in enumerate(items):
        if item.kind == "across":
            raise item.item.fault("// a second time in one line; begin a new line", item.offset)
        if item.kind == "net":
            node = _at_net(board, item, node, previous)
            previous = ""
            continue
        part = _part(board, item)
        pair = _pair(part, item, board.families[part.family])
        if isinstance(pair, str):
            node = _at_pin(board, item, part, pair, node)
            previous = part.ref
            continue
        if node is None:
            raise item.item.fault(f"a way begins on a net or a pin; say where {part.ref} comes from", item.offset)
        after = _next_node(board, items, index, part.ref, end)
        _place_legs(board, item, part, pair, (node, after))
        node, previous = after, part.ref
    if end is not None and node is not None:
        _join(board, node, end, items[-1])


def _next_node(board: _Board, items: list[WayItem], index: int, ref: str, end: str | None) -> str:
    """The net behind a part: the one that is named next, a pin's, or a joint of its own."""
    if index + 1 == len(items):
        if end is None:
            raise items[index].item.fault(f"the way ends on {ref}; end it on a net or a pin, or with `...`", items[index].offset)
        return end
    following = items[index + 1]
    if following.kind == "net":
        return board.net(following.name)
    return _joint(board, ref, following.name)


def _joint(board: _Board, left: str, right: str) -> str:
    """A joint that nobody named gets the names of both neighbours."""
    taken = {net for p in board.parts.values() for net in p.pins.values()} | set(board.same) | board.auto
    name, count = f"{left}/{right}", 2
    while name in taken:
        name, count = f"{left}/{right}.{count}", count + 1
    board.auto.add(name)
    return name


def _at_net(board: _Board, item: WayItem, node: str | None, previous: str) -> str:
    name = board.net(item.name)
    if node is not None and node != name:
        if not previous and node not in board.auto:
            raise item.item.fault(
                f"{node} and {item.name} stand side by side; a part belongs between, or they are one net", item.offset
            )
        _join(board, node, name, item)
    return board.net(name)


def _at_pin(board: _Board, item: WayItem, part: Part, pin: str, node: str | None) -> str:
    """A single pin: the way starts there, ends there, or goes on from it."""
    known = part.pins.get(pin)
    net = board.net(known) if known is not None else node or _joint(board, part.ref, pin)
    if known is None:
        doubts = part.doubts | {f"pin:{pin}"} if item.doubtful else part.doubts
        board.parts[part.ref] = replace(part, pins={**part.pins, pin: net}, doubts=doubts)
    elif node is not None:
        _join(board, node, net, item)
    return board.net(net)


def _place_legs(board: _Board, item: WayItem, part: Part, pair: tuple[str, str], nets: tuple[str, str]) -> None:
    pins, doubts = dict(part.pins), set(part.doubts)
    if all((part.ref, pin) in board.walked for pin in pair):
        raise item.item.fault(
            f"{part.ref} was walked already (line {board.walked[part.ref, pair[0]]}); a part lies in one place", item.offset
        )
    for pin, net in zip(pair, nets):
        if pin in pins and board.net(pins[pin]) != board.net(net):
            if part.assumed:
                raise item.item.fault(
                    f"{part.ref} sits between {' and '.join(part.pins.values())} on the starting sheet; "
                    "give this one its own designator",
                    item.offset,
                )
            _join(board, pins[pin], net, item)
        pins[pin] = board.net(net)
        board.walked[part.ref, pin] = item.item.line
        if item.doubtful and item.legs:
            doubts.add(f"pin:{pin}")
    board.parts[part.ref] = replace(part, pins=pins, doubts=frozenset(doubts))


def _join(board: _Board, first: str, second: str, item: WayItem) -> None:
    """Two names for one piece of copper: a joint takes the other's name; two named nets are a contradiction."""
    first, second = board.net(first), board.net(second)
    if first == second:
        return
    if first in board.auto:
        board.same[first] = second
    elif second in board.auto:
        board.same[second] = first
    else:
        raise item.item.fault(
            f"{item.name} would join {first} and {second}, which are two nets; correct one of them", item.offset
        )
