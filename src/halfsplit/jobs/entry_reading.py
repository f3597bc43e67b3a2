"""`where [to black] value [how] [state of the part]`, and bare values that answer the card."""

from __future__ import annotations

from dataclasses import dataclass, replace

from halfsplit.errors import EntryError
from halfsplit.jobs.entry_names import CardView, Names, Sticky, find, net_of, read_place
from halfsplit.jobs.entry_types import Place, ReadingEntry
from halfsplit.jobs.entry_values import BOARD_FLAGS, Measured, Tail, gather, measure


@dataclass(frozen=True)
class Bench:
    """Everything a line is read against. text: the whole line as typed."""

    text: str
    names: Names
    sticky: Sticky
    card: CardView | None

    @property
    def free_function(self) -> str | None:
        """Function of a number that says nothing itself: DC volts while on, else the job has to ask."""
        return "v" if self.sticky.power == "on" else None


def placed_readings(words: list[str], bench: Bench) -> tuple[ReadingEntry, ...]:
    """The readings of a line that starts with a place. Raises EntryError or UnknownName."""
    place, used = _place_and_black(words, bench)
    tail = gather(words[used:], _parts_in(words[used:], bench.names))
    if not tail.groups:
        raise EntryError(f"{' '.join(words)!r} has no value; write it like `{words[0]} 24.0`")
    probe = _probe_at(place, bench)
    default = bench.free_function if probe is None or bench.card is None else bench.card.probes[probe][1]
    found = [measure(group, default) for group in tail.groups]
    functions = [one.function for one in found]
    if len(set(functions)) < len(functions):
        raise EntryError(
            f"{len(found)} values for {place.where}, but not one function each; both ways round is 0.48/OL, else one line each"
        )
    return tuple(_entry(place, one, tail, bench, probe) for one in found)


def bare_readings(words: list[str], bench: Bench) -> tuple[ReadingEntry, ...]:
    """Values without a place: the first answers the card's first probe, several answer the round in its order."""
    tail = gather(words, _parts_in(words, bench.names))
    probes = bench.card.probes if bench.card else ()
    if not probes:
        raise EntryError(f"{words[0]!r}: no card is asking for a value; say where, like `vcc {words[0]}`")
    if len(tail.groups) > len(probes):
        asked = ", ".join(where for where, _ in probes)
        raise EntryError(f"{len(tail.groups)} values, but the card asks for {len(probes)}: {asked}; leave the others out")
    entries = []
    for at, (group, (where, function)) in enumerate(zip(tail.groups, probes, strict=False)):
        place, _ = _place_and_black(where.split(), bench)
        entries.append(_entry(place, measure(group, function), tail, bench, at))
    return tuple(entries)


def value_alone(words: list[str], bench: Bench) -> ReadingEntry:
    """One value without any place, as `was 0.43M` has it; function None unless it says so itself."""
    tail = gather(words, _parts_in(words, bench.names))
    if len(tail.groups) != 1:
        raise EntryError("one value, please: `was 0.43M`")
    return _entry(Place(where=""), measure(tail.groups[0], None), tail, bench, None)


def _place_and_black(words: list[str], bench: Bench) -> tuple[Place, int]:
    """Place, and how many words it took. Only `to` brings in a black net: `+24 0V` reads 0 volts."""
    to = len(words) > 1 and words[1].lower() == "to"
    place = read_place(words[0], bench.names, bench.sticky.black, one_leg=to)
    if not to:
        return place, 1
    if len(words) < 3:
        raise EntryError("black to what? write it like `U3.k to 0V 13.4`")
    if place.part is not None and len(place.pins) == 2:
        raise EntryError(f"{words[0]!r} names both leads already; leave out `to {words[2]}`, or name one leg")
    return replace(place, where=" ".join(words[:3]), black=net_of(words[2], bench.names), black_said=True), 3


def _parts_in(words: list[str], names: Names) -> set[str]:
    """Words that are exactly a part's name: R27 stays the part, even where it could be 0.27 ohm."""
    return {w for w in words if find(w, names.parts) is not None}


def _probe_at(place: Place, bench: Bench) -> int | None:
    """The card's probe at this very place, so that `bulk-cap 120k` answers it as a bare 120k does."""
    for at, (where, _) in enumerate(bench.card.probes if bench.card else ()):
        other, _ = _place_and_black(where.split(), bench)
        if (other.red, other.black, other.part, other.pins) == (place.red, place.black, place.part, place.pins):
            return at
    return None


def _entry(place: Place, one: Measured, tail: Tail, bench: Bench, card: int | None) -> ReadingEntry:
    flags = one.flags | tail.flags
    if place.where and place.part is None and flags & BOARD_FLAGS:
        raise EntryError(f"which part is {' '.join(sorted(flags & BOARD_FLAGS))}? {place.where!r} is a net; name the part")
    return ReadingEntry(
        text=bench.text,
        mark=bench.sticky.ok_bad,
        where=place.where,
        red_net=place.red,
        black_net=place.black,
        black_said=place.black_said,
        part=place.part,
        pins=place.pins,
        function=one.function,
        flags=flags,
        after=tail.after,
        of_twin=one.of_twin or bench.sticky.twin,
        card=card,
        shown=one.shown,
        **one.values,
    )
