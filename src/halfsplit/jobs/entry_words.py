"""Lines that start with a word of their own: states, acts, corrections, questions."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from halfsplit.errors import EntryError, UnknownName
from halfsplit.jobs.entry_names import find, is_place, need, net_of, read_place
from halfsplit.jobs.entry_power import NONE, bench_supply, dead, finite, meter
from halfsplit.jobs.entry_reading import Bench, value_alone
from halfsplit.jobs.entry_types import (
    ActEntry,
    AnswerEntry,
    AskEntry,
    BindEntry,
    CantEntry,
    CorrectEntry,
    CyclesEntry,
    Entry,
    ModeEntry,
    ProvokeEntry,
    SameEntry,
    SheetEntry,
    StateEntry,
    StrikeEntry,
    WaiveEntry,
)
from halfsplit.units import is_quantity, parse_quantity

Words = Sequence[str]
_WHOLE = re.compile(r"#?([0-9]{1,6})")


def number_of(word: str) -> int | None:
    """The entry's number in `3` or `#3`; None where it is no number."""
    whole = _WHOLE.fullmatch(word)
    return int(whole[1]) if whole else None


def _alone(word: str, rest: Words) -> None:
    if rest:
        raise EntryError(f"{word!r} stands alone; what does {' '.join(rest)!r} add? give it its own line")


def _off(bench: Bench, word: str, rest: Words) -> Entry:
    _alone(word, rest)
    return StateEntry(text=bench.text, kind="off")


def _on(bench: Bench, word: str, rest: Words) -> Entry:
    _alone(word, rest)
    return StateEntry(text=bench.text, kind="on")


def _waive(bench: Bench, word: str, rest: Words) -> Entry:
    """`waive A. Person: varistor split, surge seen by the owner`: goes on with the cause open, in writing."""
    name, _, reason = " ".join(rest).partition(":")
    if not name.strip() or len(reason.split()) < 2:
        raise EntryError("who takes it on, and why? write it like `waive A. Person: owner saw the surge, nothing else found`")
    return WaiveEntry(text=bench.text, name=name.strip(), reason=reason.strip())


def _lamp(bench: Bench, word: str, rest: Words) -> Entry:
    if len(rest) != 1:
        raise EntryError("which lamp is in series? `lamp 60`, or `lamp none`")
    if rest[0].lower() in NONE:
        return StateEntry(text=bench.text, kind="lamp", lamp=None)
    watts = finite(rest[0], "W", word)
    if not watts > 0:
        raise EntryError(f"a lamp of {watts:g} W is none; write `lamp none` where there is no lamp")
    return StateEntry(text=bench.text, kind="lamp", lamp=watts)


def _direct(bench: Bench, word: str, rest: Words) -> Entry:
    _alone(word, rest)
    return StateEntry(text=bench.text, kind="lamp", lamp=None)


def _press(bench: Bench, word: str, rest: Words) -> Entry:
    if not rest:
        known = ", ".join(bench.names.controls) or "none on the sheet yet, `does: bake: U2.relay high` adds one"
        raise EntryError(f"{word} what? known controls: {known}")
    control = need("control", " ".join(rest), bench.names.controls)
    return StateEntry(text=bench.text, kind=word, control=control)


def _black(bench: Bench, word: str, rest: Words) -> Entry:
    """`black hot-` from now on; `black was hot- 3`: it was there for the last three."""
    if rest and rest[0].lower() == "was" and len(rest) in (2, 3):
        count = number_of(rest[2]) if len(rest) == 3 else None
        if len(rest) == 3 and not count:
            raise EntryError(f"{rest[2]!r} is no number of readings; write it like `black was {rest[1]} 3`")
        return CorrectEntry(text=bench.text, black=net_of(rest[1], bench.names), count=count)
    if len(rest) != 1 or rest[0].lower() == "was" and not is_place(rest[0], bench.names):
        raise EntryError("black on which net? `black hot-`; if it was elsewhere: `black was hot-`")
    return StateEntry(text=bench.text, kind="black", net=net_of(rest[0], bench.names))


def _sticky_mark(bench: Bench, word: str, rest: Words) -> Entry:
    _alone(word, rest)
    return StateEntry(text=bench.text, kind="mark", value=None if word == "unmarked" else word)


def _twin(bench: Bench, word: str, rest: Words) -> Entry:
    if len(rest) > 1 or rest and rest[0].lower() not in ("on", *NONE):
        raise EntryError("`twin` alone: from now on the meter is on the good one; `twin off` ends it")
    return StateEntry(text=bench.text, kind="twin", value=None if rest and rest[0].lower() in NONE else "on")


def _act(bench: Bench, word: str, rest: Words) -> Entry:
    """An act on a part; `unplug` and `plug` also on a net, where a connector has no designator."""
    if not rest:
        if word == "unplug":
            return StateEntry(text=bench.text, kind="off")
        raise EntryError(f"{word} what? name the part, like `{word} R14`")
    names, words = bench.names, " ".join(rest[1:])
    if words and word not in ("fit", "bridge", "refit"):
        raise EntryError(f"{word} takes one part a line; what does {words!r} add?")
    if word in ("unplug", "plug") and find(rest[0], names.parts) is None:
        if find(rest[0], names.nets) is None:
            raise UnknownName("net or part", rest[0], names.places)
        return ActEntry(text=bench.text, act=word, net=net_of(rest[0], names))
    if (whole := find(rest[0], names.parts)) is not None:
        return ActEntry(text=bench.text, act=word, part=whole, words=words)
    name = rest[0].rpartition(".")[0] if word in ("lift", "refit") else rest[0]
    if find(name, names.parts) is None:
        raise UnknownName("part", rest[0], names.parts)
    place = read_place(rest[0], names, None, one_leg=True)
    if place.part is None or len(place.pins) != 1:
        raise EntryError(f"{word} one leg a line, like `{word} {name}.1`")
    return ActEntry(text=bench.text, act=word, part=place.part, pin=place.pins[0], words=words)


_HANGS = frozenset({"for", "at", "across", "instead", "of", "in", "place"})  # said between the resistor and the load; they add nothing


def _dummy(bench: Bench, word: str, rest: Words) -> Entry:
    """`dummy 300R 25W led-1`: a resistor in place of a load; the load may be left out where the sheet has only one. `dummy none`: off again."""
    how = f"write it like `{word} 56R 10W fan`, ohms and watts as printed on it; `{word} none` takes it off"
    if len(rest) == 1 and rest[0].lower() in (*NONE, "off"):
        return ActEntry(text=bench.text, act=word)
    values = {q.unit: q for w in rest[:2] if is_quantity(w) and (q := parse_quantity(w, None if w[-1:].lower() == "w" else "ohm")).unit}
    if len(rest) < 2 or values.keys() != {"ohm", "W"}:
        raise EntryError(f"a dummy load of how many ohms and watts? {how}")
    doubted = [unit for unit, q in values.items() if q.doubtful or q.about or not 0.0 < q.value < float("inf")]
    if doubted:
        raise EntryError(f"the {'ohms' if doubted[0] == 'ohm' else 'watts'} of a dummy load have to be known; {how}")
    named = [w for w in rest[2:] if w.lower() not in _HANGS or is_place(w, bench.names)]
    if len(named) > 1:
        raise EntryError(f"one load a line; what does {' '.join(named[1:])!r} add? {how}")
    ohms, watts = values["ohm"].value, values["W"].value
    if not named:
        return ActEntry(text=bench.text, act=word, ohms=ohms, watts=watts)
    if (part := find(named[0], bench.names.parts)) is not None:
        return ActEntry(text=bench.text, act=word, part=part, ohms=ohms, watts=watts)
    if find(named[0], bench.names.nets) is None:
        raise UnknownName("net or part", named[0], bench.names.places)
    return ActEntry(text=bench.text, act=word, net=net_of(named[0], bench.names), ohms=ohms, watts=watts)


def _no(bench: Bench, word: str, rest: Words) -> Entry:
    """`no`, `no 3`: strike. `no 3 was 0.43M`: correct. `no mov`: looked, isn't there."""
    if not rest:
        return StrikeEntry(text=bench.text)
    number = number_of(rest[0])
    if number is not None and len(rest) == 1:
        return StrikeEntry(text=bench.text, number=number)
    if number is not None and rest[1].lower() == "was":
        return CorrectEntry(text=bench.text, number=number, reading=value_alone(list(rest[2:]), bench))
    if number is not None or word != "no":
        raise EntryError(f"{word} which entry? `no` strikes the last one, `no 3` number 3")
    return _absent(bench, list(rest))


def _absent(bench: Bench, rest: list[str]) -> Entry:
    kind = _kind(rest[0], bench)
    return BindEntry(text=bench.text, refs="", word=kind, rest=" ".join(rest[1:]), absent=True)


def _kind(word: str, bench: Bench) -> str:
    """A place or family that a part can be; not checked while nobody told which there are."""
    if bench.names.kinds is None:
        return find(word, bench.names.parts) or word
    return need("place or kind of part", word, (*bench.names.parts, *bench.names.kinds))


def bind(bench: Bench, words: list[str]) -> Entry:
    """`C5 bulk-cap 68u 400V`: which part is which place."""
    return BindEntry(text=bench.text, refs=words[0], word=_kind(words[1].rstrip(","), bench), rest=" ".join(words[2:]))


def _was(bench: Bench, word: str, rest: Words) -> Entry:
    if not rest:
        raise EntryError("what was it really? write it like `was 0.43M`")
    return CorrectEntry(text=bench.text, reading=value_alone(list(rest), bench))


def _cant(bench: Bench, word: str, rest: Words) -> Entry:
    """`cant gate`; alone it means the card's first place."""
    rest = rest[1:] if rest and rest[0].lower() == "reach" and not (len(rest) == 1 and is_place(rest[0], bench.names)) else rest
    if not rest:
        if bench.card is None or not bench.card.probes:
            raise EntryError("can't reach what? name the place, like `cant gate`")
        rest = bench.card.probes[0][0].split()[:1]
    _alone(f"{word} {rest[0]}", rest[1:])
    place = _reachable(rest[0], bench)
    return CantEntry(text=bench.text, where=rest[0], net=place[0], part=place[1], pins=place[2])


def _reachable(word: str, bench: Bench) -> tuple[str | None, str | None, tuple[str, ...]]:
    part = find(word, bench.names.parts)
    if part is not None and find(word, bench.names.nets) is None:
        return None, part, ()
    place = read_place(word, bench.names, None)
    return (place.red if len(place.pins) < 2 else None), place.part, place.pins


def _same(bench: Bench, word: str, rest: Words) -> Entry:
    _alone(word, rest)
    return SameEntry(text=bench.text, mark=bench.sticky.ok_bad)


def _ask(bench: Bench, word: str, rest: Words) -> Entry:
    return AskEntry(text=bench.text, word=word, about=" ".join(rest))


def _mode(bench: Bench, word: str, rest: Words) -> Entry:
    _alone(word, rest)
    return ModeEntry(text=bench.text, mode=word)


def _answer(bench: Bench, word: str, rest: Words) -> Entry:
    _alone(word, rest)
    return AnswerEntry(text=bench.text, answer="y" if word == "yes" else word)


CHANGED, UNCHANGED = ("changed", "came", "went"), ("same", "nothing", "unchanged", "didn't", "didnt")


def _provoke(bench: Bench, word: str, rest: Words) -> Entry:
    """`tap K1 changed`, `flex T1 CON2 same`, `cold Q1 changed`: where, then whether the fault came or went with it."""
    said = rest[-1].lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'") if rest else ""
    if len(rest) < 2 or said not in (*CHANGED, *UNCHANGED):
        raise EntryError(f"{word} what, and did the fault come or go with it? write it like `{word} K1 changed` or `{word} K1 same`")
    parts: list[str] = []
    nets: list[str] = []
    for name in (n.rstrip(",") for n in rest[:-1]):
        part, net = find(name, bench.names.parts), find(name, bench.names.nets)
        if part is None and net is None:
            raise UnknownName("part or net", name, bench.names.places)
        (nets if part is None else parts).append(str(part or net))
    return ProvokeEntry(
        text=bench.text, mark=bench.sticky.ok_bad, how=word, parts=tuple(parts), nets=tuple(nets), changed=said in CHANGED
    )


def _cycles(bench: Bench, word: str, rest: Words) -> Entry:
    """`cycles 20 ok`: so many starts in a row that all went well; one that failed is a reading or a look with `bad:`."""
    number = number_of(rest[0]) if rest else None
    if not number or number > 100_000 or [w.lower() for w in rest[1:]] not in ([], ["ok"], ["good"]):
        raise EntryError("how many good starts in a row? write it like `cycles 20 ok`; one that failed like `bad: out 0.3`")
    return CyclesEntry(text=bench.text, count=number)


def _way(bench: Bench, word: str, rest: Words) -> Entry:
    if len(rest) < 2:
        raise EntryError("a way is walked from net to net, like `way L F1(T10A) live`")
    return SheetEntry(text=bench.text, key="way", words=" ".join(rest))


Verb = Callable[[Bench, str, Words], Entry]
_SPOKEN: dict[str, Verb] = {
    "off": _off,
    "unplugged": _off,
    "on": _on,
    "dead": dead,
    "meter": meter,
    "waive": _waive,
    "lamp": _lamp,
    "direct": _direct,
    "press": _press,
    "release": _press,
    "bench": bench_supply,
    "black": _black,
    "ok": _sticky_mark,
    "bad": _sticky_mark,
    "unmarked": _sticky_mark,
    "twin": _twin,
    "no": _no,
    "strike": _no,
    "undo": _no,
    "was": _was,
    "cant": _cant,
    "can't": _cant,
    "same": _same,
    "way": _way,
}
VERBS: Mapping[str, Verb] = {
    **_SPOKEN,
    **dict.fromkeys(("lift", "unplug", "plug", "remove", "fit", "refit", "bridge"), _act),
    "dummy": _dummy,
    **dict.fromkeys(("tap", "flex", "warm", "cold"), _provoke),
    "cycles": _cycles,
    **dict.fromkeys(("why", "others", "tell", "suspects", "found", "cleared", "log", "card", "sheet", "help"), _ask),
    **dict.fromkeys(("follow", "lead"), _mode),
    **dict.fromkeys(("y", "n", "yes"), _answer),
}


def correct_numbered(bench: Bench, words: list[str]) -> Entry | None:
    """`3 was 0.43M`; None where the line is something else."""
    number = number_of(words[0])
    if number is None or len(words) < 3 or words[1].lower() != "was" or is_quantity(words[1]):
        return None
    return CorrectEntry(text=bench.text, number=number, reading=value_alone(words[2:], bench))
