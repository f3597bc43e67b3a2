"""Lines that say how the set stands as to power: dead, the meter on a known source, the bench supply."""

from __future__ import annotations

import math
from collections.abc import Sequence

from halfsplit.errors import EntryError
from halfsplit.jobs.entry_names import CardView, find, need, net_of
from halfsplit.jobs.entry_reading import Bench
from halfsplit.jobs.entry_types import Entry, StateEntry
from halfsplit.jobs.entry_values import looks_like_value
from halfsplit.jobs.safety import KNOWN_VOLTS
from halfsplit.units import parse_quantity

Words = Sequence[str]
NONE = ("none", "off", "out")


def dead(bench: Bench, word: str, rest: Words) -> Entry:
    """`dead C1 3V C2 0.4V`: capacitor, volts, again and again; `dead 9V C1 3V 9V`: a known source before and after;
    `dead 3V 0.4V`: the card's capacitors in its order."""
    if rest and all(_is_value(w, bench) for w in rest):
        rest = _named(bench.card, rest)
    before = after = None
    if rest and _is_value(rest[0], bench):
        before, rest = _source(rest[0], word), rest[1:]
    if len(rest) % 2 and len(rest) > 1 and _is_value(rest[-1], bench):
        after, rest = _source(rest[-1], word), rest[:-1]
    if len(rest) % 2:
        raise EntryError(f"{rest[-1]!r} stands without its pair; dead wants the volts read at each capacitor, like `dead C1 3V`")
    read: dict[str, float] = {}
    for name, volts in zip(rest[::2], rest[1::2], strict=True):
        part = need("part", name, bench.names.parts)
        if part in read:
            raise EntryError(f"{part} stands twice in one line; which volts hold?")
        read[part] = finite(volts, "V", "dead")
    return StateEntry(text=bench.text, kind="dead", dead=tuple(read.items()), before=before, after=after)


def _is_value(word: str, bench: Bench) -> bool:
    return find(word, bench.names.parts) is None and looks_like_value(word)


def _named(card: CardView | None, values: Words) -> Words:
    """Bare volts with the names of the card's capacitors put in; a source stands before them, after them, or both."""
    if card is None or not card.caps:
        raise EntryError(
            f"{' '.join(values)}: volts at which capacitors? no card asks for them now; name each, like `dead C1 3V`"
        )
    more = len(values) - len(card.caps)
    if more not in (0, 1, 2):
        raise EntryError(
            f"{len(values)} values, but the card asks for volts at {', '.join(card.caps)}, and the known source before and after"
        )
    first = more == 2 or (more == 1 and card.prove)
    source = list(values[:1]) if first else []
    read = values[len(source) : len(source) + len(card.caps)]
    return [*source, *(w for pair in zip(card.caps, read, strict=True) for w in pair), *values[len(source) + len(card.caps) :]]


def _source(text: str, word: str) -> float:
    """Volts shown on a known source, AC or DC."""
    found = parse_quantity(text, "V")
    if not math.isfinite(found.value) or found.doubtful or not abs(found.value) >= KNOWN_VOLTS:
        raise EntryError(
            f"{text!r} with {word!r} proves no meter: touch a source of {KNOWN_VOLTS:g} V or more that you know, like 9V"
        )
    return found.value


def meter(bench: Bench, word: str, rest: Words) -> Entry:
    """`meter 9V`: it showed the source that is known to have 9 V; `meter 9.2V 9V`: 9.2 V where 9 V are known."""
    if len(rest) not in (1, 2):
        raise EntryError("what did the meter show on a source you know? `meter 9V`, or `meter 9.2V 9V` with what is known last")
    shown, known = _source(rest[0], word), _source(rest[-1], word)
    if abs(shown - known) > 0.1 * abs(known):
        raise EntryError(f"{shown:g} V where {known:g} V are known: this meter or its leads can't be trusted; try others")
    return StateEntry(text=bench.text, kind="meter", before=shown, known=known)


def finite(text: str, want: str, word: str) -> float:
    """A value in the wanted unit that is a number: OL proves nothing here. Raises InputError."""
    found = parse_quantity(text, want)
    if not math.isfinite(found.value) or found.mark == "ac" or found.doubtful:
        raise EntryError(f"{text!r} after {word!r} must be plain {want} as read, without OL, ac or ?; read it again")
    return found.value


def bench_supply(bench: Bench, word: str, rest: Words) -> Entry:
    """`bench out 14.5V 0.5A plus`: net, volts, current limit, which pole of the supply is on the net; `bench none`."""
    if len(rest) == 1 and rest[0].lower() in NONE and find(rest[0], bench.names.nets) is None:
        return StateEntry(text=bench.text, kind="bench")
    pole = rest[3].lower() if len(rest) == 4 and rest[3].lower() in ("plus", "minus") else None
    if len(rest) != 3 + (pole is not None):
        raise EntryError(
            "bench supply: net, volts, current limit and the pole on that net, like `bench out 14.5V 0.5A plus`; `bench none` when it is off"
        )
    net = net_of(rest[0], bench.names)
    volts, amps = finite(rest[1], "V", word), finite(rest[2], "A", word)
    if not amps > 0:
        raise EntryError(f"a current limit of {amps:g} A feeds nothing; write `bench none` when it is off")
    return StateEntry(text=bench.text, kind="bench", net=net, volts=volts, amps=amps, value=pole)
