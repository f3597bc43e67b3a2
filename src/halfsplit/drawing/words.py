"""What is written at a part: its designator or place, and its main values as the trade writes them."""

from __future__ import annotations

from halfsplit.circuit.model import Part
from halfsplit.parts import family_of

_LETTERS = {"ohm": "R", "F": "F", "H": "H", "V": "V", "A": "A", "W": "W", "C": "°C", "K": "K"}
_SCALE = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p"))
_SECOND = ("volts", "amps", "watts")
LONGEST = 12


def short(value: float, unit: str) -> str:
    """4k7, 22R, 0.5W, 470u, 12V: three digits at most."""
    letter = _LETTERS.get(unit, unit)
    size = abs(value)
    if size == 0 or not 1e-13 < size < 1e10:
        return f"{value:g}{letter}"
    scale, prefix = next(((s, p) for s, p in _SCALE if size >= s * 0.9995), _SCALE[-1])
    if unit in ("V", "W", "A") and 0.1 <= size < 1:
        scale, prefix = 1.0, ""
    if unit == "F" and size >= 0.9995e-3:
        scale, prefix = 1e-6, "u"  # the trade writes 2200u
    number = f"{value / scale:.3g}" if size / scale < 999.5 else f"{value / scale:.0f}"
    if unit == "ohm":
        mark = prefix or "R"
        whole, _, rest = number.partition(".")
        return f"{whole}{mark}{rest}"
    return f"{number}{prefix}{'' if unit == 'F' else letter}"


def value_words(part: Part) -> str:
    """The main value and one rating, each only where the sheet has it; doubtful ones with a question mark."""
    family = family_of(part)
    units = {p.name: p.unit for p in family.params}
    units |= {"volts": "V", "amps": "A", "watts": "W"}
    known = {**({} if part.assumed else part.ratings), **part.values}  # ratings of a part that nobody saw say little
    names = [family.main_value] if family.main_value in known else []
    names += [n for n in _SECOND if n in known and n not in names and not (part.assumed and n == "watts")][: 2 - len(names)]
    said = [short(known[n], units.get(n, "")) + ("?" if n in part.doubts else "") for n in names if n is not None]
    return " ".join(said)


def label_lines(part: Part) -> tuple[tuple[str, str], ...]:
    """(role, words), one a line; a long place name is broken at its hyphen."""
    ref = part.ref + ("?" if "part" in part.doubts else "")
    names = [ref]
    if len(ref) > LONGEST - 2 and "-" in ref[1:-1]:
        cut = min((i for i, c in enumerate(ref) if c == "-" and 0 < i < len(ref) - 1), key=lambda i: abs(i - len(ref) / 2))
        names = [ref[: cut + 1], ref[cut + 1 :]]
    names = [n if len(n) <= 24 else n[:23] + "…" for n in names]
    value = value_words(part)
    return (*(("ref", n) for n in names), *((("value", value),) if value else ()))
