"""The words of one part: which family it is, and what its values, ratings and question marks mean."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from halfsplit.circuit.model import Part
from halfsplit.circuit.sheet import Item
from halfsplit.errors import InputError, UnknownName
from halfsplit.parts.base import Family
from halfsplit.units import Quantity, is_quantity, parse_quantity, parse_ratings

Families = Mapping[str, Family]

RATING_NAME = {
    "V": "volts",
    "A": "amps",
    "W": "watts",
    "ohm": "ohms",
    "F": "farads",
    "H": "henry",
    "C": "celsius",
    "VA": "va",
    "Hz": "hertz",
    "s": "seconds",
    "%": "tolerance",
}
DESIGNATOR = re.compile(r"(?P<letters>[A-Za-z]{1,4})[0-9]{1,4}[A-Za-z]?")
_SPEED_TAG = {"T": "slow", "TT": "slow", "M": "medium", "F": "fast", "FF": "fast"}
_TAG_WORDS = frozenset(  # words that describe a part and change neither its family nor its value (common practice)
    "fusible flameproof film foil ceramic metal carbon wirewound wire-wound schottky fast ultrafast ultra-fast slow x x1 x2 y "
    "y1 y2 each bipolar smd axial radial snap-in polyester polypropylene mica tantalum polymer low-esr dual darlington logic "
    "trim preset type output spreader terminals "
    "bidirectional unidirectional green black red blue yellow white brown grey cement silicon germanium standard small big".split()
)
_TYPE_WORD = re.compile(r"(?=.*[0-9])[A-Za-z0-9][\w./-]*|[A-Za-z]")


@dataclass(frozen=True)
class Spec:
    """What was written about one part. unreadable: `(?)`. words: in lower case, without values."""

    quantities: tuple[Quantity, ...] = ()
    words: tuple[str, ...] = ()
    unreadable: bool = False


def nearest_known(kind: str, word: str, known: Mapping[str, object] | tuple[str, ...], item: Item) -> UnknownName:
    """UnknownName that also says the line."""
    return UnknownName(f"{kind} ({item.name}:{item.line}:{item.column})", word, known)


def read_spec(text: str, item: Item) -> Spec:
    """Values and words of a part. Raises SheetError at the item for what only starts like a value."""
    unreadable = False
    words: list[str] = []
    for token in text.replace(", ", " ").split():
        if token.strip("()") == "?":
            unreadable = True
        else:
            words.append(token)
    try:
        found = parse_ratings(words)
    except InputError as bad:
        raise item.fault(str(bad)) from None
    return Spec(found.quantities, tuple(w.strip("()").lower() for w in found.words), unreadable)


def family_words(families: Families) -> dict[str, str]:
    """Every word that names a family, in lower case -> family name."""
    out = {word.lower(): f.name for f in families.values() for word in f.words}
    out.update({name.lower(): name for name in families})
    return out


def letters_of(ref: str) -> str:
    """The letters of a designator in capitals: ZD for ZD1, HTR for HTR."""
    m = DESIGNATOR.fullmatch(ref)
    return (m["letters"] if m else ref).upper()


def family_for(ref: str, spec: Spec, families: Families, item: Item) -> Family:
    """The family that the words say, else the designator's letters and the size of the value.

    Raises: UnknownName for a word that nobody knows, SheetError where it stays open.
    """
    known = family_words(families)
    check_words(spec, known, item)
    letters = letters_of(ref)
    named = [families[n] for n in dict.fromkeys(known[w] for w in spec.words if w in known)]
    if len(named) > 1:
        named = [f for f in named if letters in f.letters] or named
    candidates = named or [f for f in families.values() if letters in f.letters]
    if len(candidates) > 1:
        candidates = _by_value(candidates, spec)
    if len(candidates) == 1:
        return candidates[0]
    if not candidates:
        raise item.fault(f"{ref}: the letters {letters!r} name no kind of part; say what it is, like {ref}(resistor 10k)")
    raise item.fault(f"{ref} could be {' or '.join(f.name for f in candidates)}; say which")


def check_words(spec: Spec, known: Mapping[str, str], item: Item) -> None:
    """Each word is a family, a describing word or a type number; anything else is asked about."""
    for word in spec.words:
        plain = word.rstrip("?")
        if plain and plain not in known and plain not in _TAG_WORDS and not _TYPE_WORD.fullmatch(plain):
            raise nearest_known("place or part word", word, tuple(known), item)


def _by_value(candidates: list[Family], spec: Spec) -> list[Family]:
    """Those whose usual value is nearest to what is written, if it is clear (a factor of 3 between the distances)."""
    scored: list[tuple[float, int]] = []
    for index, family in enumerate(candidates):
        usual = {p.unit: p.default for p in family.params if p.name == family.main_value and p.default > 0}
        values = [q.value / usual[q.unit] for q in spec.quantities if q.unit in usual and 0 < q.value < math.inf]
        if values:
            scored.append((abs(math.log(values[0])), index))
    scored.sort()
    if len(scored) == 1 or (scored and scored[1][0] - scored[0][0] > math.log(3)):
        return [candidates[scored[0][1]]]
    return [candidates[i] for _, i in scored] or candidates


def fill_part(part: Part, family: Family, spec: Spec, item: Item) -> Part:
    """The part with its written values, ratings, tags and doubts.

    A value with ~ is kept as doubtful too: both widen it the same way. Raises SheetError for two values of one kind.
    """
    values, ratings = dict(part.values), dict(part.ratings)
    tags, doubts = set(part.tags), set(part.doubts)
    for word in spec.words:
        values.update(family.type_values(word.rstrip("?")))
    placed = _placed(family, spec, item)
    for name, quantity in placed:
        if any(p.name == name for p in family.params):
            values[name] = quantity.value
        if name != family.main_value:
            ratings[RATING_NAME[quantity.unit]] = quantity.value
        doubts.discard(name)
        if quantity.doubtful or quantity.about:
            doubts.add(name)
        if quantity.mark in _SPEED_TAG:
            tags = tags - set(_SPEED_TAG.values()) | {_SPEED_TAG[quantity.mark]}
    if part.place is None:  # a starting sheet has worked these out for its own places
        reckoned = family.follows({name: quantity.value for name, quantity in placed})
        values.update(reckoned)
        doubts |= set(reckoned)
    if spec.unreadable:
        doubts.add(family.main_value or "part")
    tags |= {w.rstrip("?") for w in spec.words} - {family.name, "each", ""}
    if any(w.endswith("?") for w in spec.words):
        doubts.add("part")
    return replace(part, values=values, ratings=ratings, tags=frozenset(tags), doubts=frozenset(doubts))


def _placed(family: Family, spec: Spec, item: Item) -> list[tuple[str, Quantity]]:
    """(parameter or rating, value): the main value takes the first of its unit, the rest go by their unit."""
    order = [p.name for p in family.params]
    main = next((p for p in family.params if p.name == family.main_value), None)
    out: list[tuple[str, Quantity]] = []
    for unit in dict.fromkeys(q.unit for q in spec.quantities):
        same = [q for q in spec.quantities if q.unit == unit]
        if unit not in RATING_NAME or math.isinf(same[0].value):
            raise item.fault("a value without a unit stands here; write it like 4k7, 0.68u or 24V")
        slots = [main.name] if main is not None and main.unit == unit else []
        if RATING_NAME[unit] not in slots:
            slots.append(RATING_NAME[unit])
        if len(same) > len(slots):
            raise item.fault(f"{len(same)} values in {RATING_NAME[unit]} for one part; keep one")
        if len(same) > 1:  # two of one unit: in the order of the family's own list
            slots.sort(key=lambda name: order.index(name) if name in order else len(order))
        out += list(zip(slots, same))
    return out


def remark_values(part: Part, family: Family, remark: str, item: Item) -> Part:
    """A remark like `stops below 4V?` sets the parameter that its word names; other remarks stay words only."""
    words = remark.split()
    for param in family.params:
        if not any(w.lower().rstrip("s") == param.name.rstrip("s") for w in words):
            continue
        for word in words:
            if is_quantity(word) and (found := parse_quantity(word)).unit == param.unit:
                doubts = part.doubts | {param.name} if found.doubtful or found.about else part.doubts - {param.name}
                return replace(part, values={**part.values, param.name: found.value}, doubts=doubts)
    return part


def pin_name(raw: str, family: Family, taken: Mapping[str, str], item: Item) -> str:
    """The family's pin for what was written: itself, or the next of a numbered pair (~ is ~1, then ~2).

    A part with outputs of its own (a micro) may have any pin. Raises UnknownName.
    """
    low = {pin.lower(): pin for pin in family.pins}
    if raw.lower() in low:
        return low[raw.lower()]
    numbered = [pin for pin in family.pins if re.fullmatch(re.escape(raw) + "[0-9]", pin)]
    if numbered:
        free = [pin for pin in numbered if pin not in taken]
        if not free:
            raise item.fault(f"{raw!r} stands more than {len(numbered)} times; a {family.name} has {' and '.join(numbered)}")
        return free[0]
    if family.outputs and re.fullmatch(r"[A-Za-z][\w-]*", raw):
        return raw
    raise nearest_known(f"pin of a {family.name}", raw, tuple(family.pins), item)


def pin_pair(raw: str, family: Family) -> tuple[str, str] | None:
    """The two pins that `.ce`, `.coil` or `.64` passes, in their order; None if it is no pair."""
    aliases = {k.lstrip(".").lower(): v for k, v in family.aliases.items()}
    if raw.lower() in aliases:
        return aliases[raw.lower()]
    for first in family.pins:
        for second in family.pins:
            if first != second and f"{first}{second}".lower() == raw.lower():
                return first, second
    return None


def check_part_name(ref: str, item: Item) -> None:
    """A designator is letters and digits. Raises SheetError."""
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_-]*", ref):
        raise item.fault(f"{ref!r} is no designator; write it like R1, C7 or HTR")
