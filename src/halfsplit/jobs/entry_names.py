"""What a line may refer to: nets, parts, pins, controls; and how a word finds its place on the board."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.columns import ground_of
from halfsplit.errors import EntryError, UnknownName
from halfsplit.jobs.entry_types import Place
from halfsplit.parts.base import Family
from halfsplit.units import plain_signs

POWERS = ("unknown", "unplugged", "dead", "on", "bench")


@dataclass(frozen=True)
class Names:
    """Everything that has a name on this board.

    parts: designators and places. aliases: part -> what may follow its dot -> pins ({"Q1": {"ce": ("c", "e")}}).
    pins: part -> pin -> net. across: part -> pins for red and black when only the part is named.
    kinds: families and places of starting sheets that a part may be bound to; None: not known, so not checked.
    own_black: net -> 0 V of its own side, where the black lead is while nobody said otherwise.
    """

    nets: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    aliases: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    controls: tuple[str, ...] = ()
    pins: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    across: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    kinds: tuple[str, ...] | None = None
    own_black: Mapping[str, str] = field(default_factory=dict)

    @property
    def places(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*self.parts, *self.nets)))


@dataclass(frozen=True)
class Sticky:
    """What is never retyped. power: one of POWERS. black: net of the black lead, None while nobody said it. twin: the meter is on the twin.
    ok_bad: "ok" or "bad" while the fault isn't or is showing."""

    power: str = "unknown"
    black: str | None = None
    twin: bool = False
    ok_bad: str | None = None


@dataclass(frozen=True)
class CardView:
    """The card on show. probes: (where, function) in the round's order. answers: words an open question takes.
    caps: capacitors whose volts it asks for, in its order. prove: the meter has to show a known source before them."""

    probes: tuple[tuple[str, str], ...] = ()
    answers: tuple[str, ...] = ()
    caps: tuple[str, ...] = ()
    prove: bool = False


def names_of(
    circuit: Circuit,
    families: Mapping[str, Family],
    kinds: Iterable[str] | None = None,
    own_black: Mapping[str, str] | None = None,
) -> Names:
    """The names of a circuit; families by their name, for pins that have more than one name."""
    aliases: dict[str, Mapping[str, tuple[str, ...]]] = {}
    across: dict[str, tuple[str, str]] = {}
    for name, part in circuit.names.items():
        family = families.get(part.family)
        known: dict[str, tuple[str, ...]] = {pin: (pin,) for pin in part.pins}
        if family is not None:
            known.update({k: v for k, v in family.aliases.items() if set(v) <= set(part.pins)})
        aliases[name] = known
        ends = family.plus_minus if family is not None and family.plus_minus else tuple(part.pins)
        if len(ends) == 2 and set(ends) <= set(part.pins):
            across[name] = (ends[0], ends[1])
    nets = tuple(dict.fromkeys((*circuit.nets, *circuit.grounds.values())))
    pins = {name: dict(part.pins) for name, part in circuit.names.items()}
    return Names(
        nets=nets,
        parts=tuple(circuit.names),
        aliases=aliases,
        controls=tuple(circuit.controls),
        pins=pins,
        across=across,
        kinds=None if kinds is None else tuple(kinds),
        own_black=own_black or {},
    )


def own_blacks(circuit: Circuit) -> dict[str, str]:
    """Net -> the 0 V of the side it is on."""
    sides = islands_of(circuit)
    return {net: ground_of(circuit, net, sides) for net in circuit.nets}


def find(word: str, known: Iterable[str]) -> str | None:
    """The known name that this word means: as written, else whatever its case and minus sign; None if there is none.

    Raises EntryError where only the case decides between several.
    """
    known = tuple(known)
    if word in known:
        return word
    low = plain_signs(word).casefold()
    same = [k for k in known if plain_signs(k).casefold() == low]
    if len(same) > 1:
        raise EntryError(f"{word!r} could be {' or '.join(same)}; type it with the same capitals")
    return same[0] if same else None


def need(kind: str, word: str, known: Iterable[str]) -> str:
    """The known name, or UnknownName with the nearest."""
    known = tuple(known)
    found = find(word, known)
    if found is None:
        raise UnknownName(kind, word, known)
    return found


def is_place(word: str, names: Names) -> bool:
    """Whether the word names a net, a part, or a pin of a known part (the pin itself may be wrong)."""
    return find(word, names.nets) is not None or find(_part_of(word, names)[0], names.parts) is not None


def net_of(word: str, names: Names) -> str:
    """The net that this word names, directly or by one pin of a part."""
    place = read_place(word, names, None, one_leg=True)
    if place.red is None or place.part is not None and len(place.pins) != 1:
        raise EntryError(f"{word!r} is not one net; name a net, or one pin of the part like {word}.1")
    return place.red


def read_place(word: str, names: Names, black: str | None, *, one_leg: bool = False) -> Place:
    """Where the leads go for this word; black is the sticky net, None: the 0 V of the side that red is on.

    one_leg: a word that is both a leg and a pair of legs (a relay's `no`) means the leg. Raises UnknownName or EntryError.
    """
    net = find(word, names.nets)
    if net is not None:
        return Place(where=word, red=net, black=black or names.own_black.get(net))
    name, pin = _part_of(word, names)
    part = find(name, names.parts)
    if part is None:
        raise UnknownName("net or part", word, names.places)
    nets = names.pins.get(part, {})
    pins = _pins(part, pin, names, one_leg) if pin else names.across.get(part)
    if pins is None:
        raise _too_many_legs(part, names)
    if len(pins) == 1:
        red = nets.get(pins[0])
        return Place(where=word, red=red, black=black or names.own_black.get(red or ""), part=part, pins=pins)
    return Place(where=word, red=nets.get(pins[0]), black=nets.get(pins[1]), part=part, pins=pins, black_said=True)


def _part_of(word: str, names: Names) -> tuple[str, str]:
    """(part, pin) of a dotted word; a part whose own name has a dot comes first."""
    if find(word, names.parts) is not None:
        return word, ""
    name, dot, pin = word.rpartition(".")
    return (name, pin) if dot and name and pin else (word, "")


def _pins(part: str, pin: str, names: Names, one_leg: bool) -> tuple[str, ...]:
    known = names.aliases.get(part, {})
    own = tuple(names.pins.get(part, {}))
    if one_leg and (single := find(pin, own)) is not None:
        return (single,)
    if (alias := find(pin, known)) is not None:
        return known[alias]
    if (single := find(pin, own)) is not None:
        return (single,)
    pairs = [(a, b) for i in range(1, len(pin)) if (a := find(pin[:i], own)) and (b := find(pin[i:], own)) and a != b]
    if len(pairs) == 1:
        return pairs[0]
    if pairs:
        raise EntryError(f"{part}.{pin} could be legs {' or '.join('-'.join(p) for p in pairs)}; write it as {part}.X to NET")
    raise UnknownName(f"leg of {part}", pin, dict.fromkeys((*known, *own)))


def _too_many_legs(part: str, names: Names) -> EntryError:
    legs = tuple(names.pins.get(part, {})) or tuple(names.aliases.get(part, {}))
    if len(legs) < 2:
        return EntryError(f"the legs of {part} are not on the sheet; name the nets, like `+24 to 0V`")
    return EntryError(f"{part} has legs {' '.join(legs)}: say the two, like {part}.{legs[0]}{legs[1]}")
