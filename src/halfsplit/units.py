"""Engineering values as the bench writes them: 4k7, R47, 0.68u, 2n2, T2A, 192C, OL.

A code that is not known is refused, never guessed: a silent misreading is worse than a question.
Values leave here as SI floats; prefixes exist only at the edge. IEC 60062 gives the letter-for-point
code (4k7); the rest is common practice.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from halfsplit.errors import DomainError, InputError

UNITS = ("ohm", "F", "H", "V", "A", "W", "Hz", "s", "C", "VA", "%", "")
"""C is degrees Celsius; % is kept as a fraction (5 % -> 0.05); "" is a bare number."""

_EXPONENT = {"p": -12, "n": -9, "u": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
_PREFIXES = {  # what bench meters and boards show; anything else is a slip of the shift key
    "ohm": "mkMG", "F": "pnum", "H": "num", "V": "umk", "A": "pnum", "W": "umk", "Hz": "kMG", "s": "num", "VA": "mk",
    "C": "", "%": "", "": "",
}
_SIGNED = ("V", "A", "W", "C", "")
_UNIT_WORDS = {
    "ohm": "ohm", "ohms": "ohm", "r": "ohm", "\u03a9": "ohm", "f": "F", "farad": "F", "fd": "F", "h": "H", "henry": "H",
    "v": "V", "volt": "V", "volts": "V", "a": "A", "amp": "A", "amps": "A", "w": "W", "watt": "W", "watts": "W",
    "hz": "Hz", "hertz": "Hz", "s": "s", "sec": "s", "c": "C", "°c": "C", "degc": "C", "°": "C", "va": "VA", "%": "%",
}
_PREFIX_WORDS = {
    "p": "p", "P": "p", "n": "n", "N": "n", "u": "u", "U": "u", "m": "m", "k": "k", "K": "k", "M": "M", "G": "G",
    "meg": "M", "mega": "M", "kilo": "k", "milli": "m", "micro": "u", "nano": "n", "pico": "p",
}
_SAID = {"ohm": "ohms", "F": "farads", "H": "henries", "V": "volts", "A": "amps", "W": "watts", "Hz": "hertz", "s": "seconds",
         "C": "degrees", "VA": "volt-amps", "%": "per cent", "": "a bare number"}
_SAME = str.maketrans({  # micro sign and mu, four dashes, the ohm sign and omega, three hard blanks
    "\u00b5": "u", "\u03bc": "u", "\u2212": "-", "\u2013": "-", "\u2010": "-", "\u2011": "-",
    "\u2126": "\u03a9", "\u03c9": "\u03a9", "\u00a0": " ", "\u202f": " ", "\u2009": " ",
})
_OPEN = {"OL", "0L", "O.L", "0.L", "O.L.", "0.L.", "INF", "INFINITY", "∞"}

_SIGN = r"(?P<sign>[+-]?)"
_PLAIN = re.compile(_SIGN + r"(?P<num>[0-9]+\.?[0-9]*|\.[0-9]+) ?(?P<rest>[^0-9.]*)")
# 1N914 and 2N3904 are types, so a capital N or P never stands for the point
_INFIX = re.compile(
    _SIGN + r"(?P<whole>[0-9]+)(?P<at>[Rr]|[Mm][Ee][Gg]|[kKMmVA\u03a9]|[unp])(?P<part>[0-9]{1,3}) ?(?P<rest>[^0-9.]*)")
# U2, K1 and P1 are designators, so only these letters may lead
_LEADING = re.compile(r"(?P<at>[RrMmunp])(?P<part>[0-9]{1,3}) ?(?P<rest>[^0-9.]*)")
_FUSE = re.compile(r"(?P<speed>TT|FF|T|F|M)(?P<num>[0-9]+(?:\.[0-9]+)?) ?(?P<milli>m?)A")
_HALF_WATT = re.compile(r"1/(?P<part>[248]) ?[wW]")
_TYPE = re.compile(  # 1N4148, 2SC1815, 78M05, 817-type, 431: names that start with a digit
    r"[0-9]+-?type|[0-9]+[A-Z]{1,3}[0-9]{2,}[A-Z]*|[12]S[A-Z][0-9]+[A-Z]*|[0-9]{3,5}[A-Z]{0,2}|[0-9]+-[0-9]+", re.IGNORECASE)
_REGULATOR = re.compile(r"7[89]M[0-9]{2}")
_LONGEST = 40


@dataclass(frozen=True)
class Quantity:
    """One value. doubtful: written with a question mark. about: written with ~.

    mark: what stood beside the number: fuse speed "T"/"F", or "ac"/"dc". Open circuit (OL) is inf.
    """

    value: float
    unit: str
    doubtful: bool = False
    about: bool = False
    mark: str = ""


@dataclass(frozen=True)
class Ratings:
    """Several values in one text, in their order, and the words between them (X2, fusible, 1N4148)."""

    quantities: tuple[Quantity, ...]
    words: tuple[str, ...]


def plain_signs(text: str) -> str:
    """The same text with one micro sign, one minus, one ohm sign and plain blanks."""
    return text.translate(_SAME)


def parse_quantity(text: str, want: str | None = None) -> Quantity:
    """The value written in text.

    Parameters: want, the unit a bare number has here (one of UNITS); a value written in another unit is refused.
    Returns: Quantity in SI; (330R?) and a trailing ? are doubtful, a leading ~ is about.
    Raises: InputError naming the text and the remedy; DomainError where the sign or size cannot be.
    """
    if want is not None and want not in UNITS:
        raise InputError(f"unit {want!r} is not known here; known: {', '.join(UNITS[:-1])}")
    body, about, doubtful = _marks_off(text)
    if body.upper() in _OPEN:
        return Quantity(math.inf, want or "", doubtful, about)
    if _REGULATOR.fullmatch(body):
        raise InputError(f"{text!r} is a regulator's type number, not a value; write a value like 78.05M with a point")
    found = _read_fuse(body) or _read_coded(text, body, want) or _read_plain(text, body, want)
    if found is None:
        raise _unknown(text)
    if want is not None and found.unit != want:
        raise InputError(f"{text!r} is in {_SAID[found.unit]}, but {_SAID[want]} are wanted here; correct the unit")
    _check_size(text, found)
    return replace(found, doubtful=doubtful, about=about)


def _marks_off(text: str) -> tuple[str, bool, bool]:
    """Text without brackets, ~ and ?, one blank at most between words; and whether ~ and ? stood there."""
    if len(text) > _LONGEST:
        raise InputError(f"{text[:_LONGEST]!r}... is too long for one value; write it like 4k7 or 0.68u")
    body = " ".join(plain_signs(text).split())
    if body.startswith("(") and body.endswith(")"):
        body = body[1:-1].strip()
    about = body.startswith("~")
    body = body[1:].lstrip() if about else body
    doubtful = body.endswith("?")
    body = body[:-1].rstrip() if doubtful else body
    if not body:
        raise InputError(f"{text!r} holds no value; write it like 4k7, 0.68u or 24V")
    return _decimal_point(text, body), about, doubtful


def _decimal_point(text: str, body: str) -> str:
    """A decimal comma becomes a point; a comma that could group thousands is asked about."""
    if "," not in body:
        return body
    if body.count(",") > 1 or "." in body or not re.search(r"[0-9],[0-9]", body):
        raise InputError(f"{text!r}: commas and points are mixed; write it like 4.7k or 4,7k")
    if re.fullmatch(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9]) ?[^0-9]*", body):
        raise InputError(f"{text!r}: is the comma a decimal comma or thousands? write it with a point, or like 4k7")
    return body.replace(",", ".")


def _read_fuse(body: str) -> Quantity | None:
    """T3.15A, F500mA: amps with the speed letter as mark. Also 1/4W, the one fraction the trade writes."""
    if half := _HALF_WATT.fullmatch(body):
        return Quantity(1 / int(half["part"]), "W")
    m = _FUSE.fullmatch(body)
    if m is None:
        return None
    return Quantity(_number(m["num"], -3 if m["milli"] else 0), "A", mark=m["speed"])


def _read_coded(text: str, body: str, want: str | None) -> Quantity | None:
    """A letter in place of the point: 4k7, 0R27, 5V1, or leading as in R47, M47."""
    m = _INFIX.fullmatch(body)
    whole, sign = (m["whole"], m["sign"]) if m else ("0", "")
    m = m or _LEADING.fullmatch(body)
    if m is None:
        return None
    at = m["at"]
    if at in "unp" and len(m["part"]) > 2:  # 1n914 is a diode
        raise InputError(f"{text!r} looks like a type number, not a value; write the value like 1.5n")
    own = {"R": "ohm", "r": "ohm", "\u03a9": "ohm", "V": "V", "A": "A"}.get(at)
    prefix = "" if own else "M" if at.lower() == "meg" else _PREFIX_WORDS[at]
    said = _unit_of(m["rest"].strip())
    if m["rest"].strip() and said is None:
        raise _unknown(text)
    unit = own or (said[1] if said else None) or _usual_unit(prefix, want)
    if said is not None and (said[0] or (own and said[1] not in (None, own))):
        raise InputError(f"{text!r} has two multipliers or units; write it like 4k7 or 4.7k")
    _check_prefix(text, prefix, unit)
    return Quantity(_number(f"{sign}{whole}.{m['part']}", _EXPONENT[prefix]), unit, mark=said[2] if said else "")


def _read_plain(text: str, body: str, want: str | None) -> Quantity | None:
    """A number, then at most a prefix and a unit."""
    m = _PLAIN.fullmatch(body)
    if m is None:
        return None
    said = _unit_of(m["rest"].strip())
    if said is None:
        return None
    prefix, named, mark = said
    unit = named or _usual_unit(prefix, want)
    if named is None and not prefix and unit in ("F", "H") and float(m["num"]) != 0:
        raise InputError(f"{text!r} has no size; write it like {m['num']}u or {m['num']}n")
    _check_prefix(text, prefix, unit)
    exponent = -2 if unit == "%" and named else _EXPONENT[prefix]
    return Quantity(_number(m["sign"] + m["num"], exponent), unit, mark=mark)


def _unit_of(rest: str) -> tuple[str, str | None, str] | None:
    """(prefix, unit or None, mark) of the letters after a number; None if they mean nothing."""
    mark = ""
    tail = re.fullmatch(r"(?P<head>|.*[vVaA]) ?(?P<mark>[aA][cC]|[dD][cC])", rest)
    if tail:
        rest, mark = tail["head"] or "V", tail["mark"].lower()
    if not rest:
        return "", None, mark
    if (unit := _unit_word(rest)) is not None:
        return "", unit, mark
    for word in sorted(_PREFIX_WORDS, key=len, reverse=True):
        head, after = rest[: len(word)], rest[len(word):].strip()
        if head != word and not (len(word) > 1 and head.lower() == word):
            continue
        unit = _unit_word(after) if after else None
        if not after or unit is not None:
            return _PREFIX_WORDS[word], unit, mark
    return None


def _unit_word(word: str) -> str | None:
    if word == "S":  # siemens or cells in series: not seconds
        return None
    return _UNIT_WORDS.get(word) or _UNIT_WORDS.get(word.lower())


def _usual_unit(prefix: str, want: str | None) -> str:
    """The unit nobody writes: k and M alone are ohms, u n p alone farads."""
    if want is not None:
        return want
    return {"k": "ohm", "M": "ohm", "G": "ohm", "u": "F", "n": "F", "p": "F"}.get(prefix, "")


def _check_prefix(text: str, prefix: str, unit: str) -> None:
    if not prefix or prefix in _PREFIXES[unit]:
        return
    if unit == "":
        raise InputError(f"{text!r} lacks its unit; write it like 20mR, 20mA or 20mV")
    other = prefix.swapcase()
    hint = f"did you mean {other}?" if other in _PREFIXES[unit] else f"usual here: {' '.join(_PREFIXES[unit]) or 'none'}"
    raise InputError(f"{text!r}: {prefix} does not go with {_SAID[unit]}; {hint} (M is mega, m is milli)")


def _number(digits: str, exponent: int) -> float:
    return float(f"{digits}e{exponent}")  # one rounding only, so 0.68u is exactly 0.68e-6


def _check_size(text: str, found: Quantity) -> None:
    if found.value < 0 and found.unit not in _SIGNED:
        raise DomainError(f"{text!r}: {_SAID[found.unit]} cannot be negative; leave out the minus")
    if found.value != 0 and not 1e-16 <= abs(found.value) <= 1e16:
        raise DomainError(f"{text!r} is outside anything on a bench; check the number of digits")


def _unknown(text: str) -> InputError:
    return InputError(f"{text!r} is not a value known here; write it like 4k7, R47, 0.68u, 24V, T2A, 192C or OL")


def is_quantity(text: str, want: str | None = None) -> bool:
    """Whether parse_quantity would take this text."""
    try:
        parse_quantity(text, want)
    except InputError:
        return False
    return True


def parse_ratings(words: str | Iterable[str], want: str | None = None) -> Ratings:
    """Values and words of one text: "2.2uF 450V X2" -> 2.2 uF, 450 V and the word X2.

    A word that starts like a number and is neither a value nor a type number (1N4148, 817-type, 431) is refused.
    want is the unit of a bare number. Raises InputError.
    """
    quantities: list[Quantity] = []
    kept: list[str] = []
    for word in _joined(words.split() if isinstance(words, str) else list(words)):
        found = _quantity_here(word, want)
        if found is not None:
            quantities.append(found)
        else:
            kept.append(word)
    return Ratings(tuple(quantities), tuple(kept))


def _quantity_here(word: str, want: str | None) -> Quantity | None:
    """The value, or None for a plain word. Raises InputError for what only starts like a number."""
    plain = plain_signs(word).strip("()").rstrip("?")
    if want is not None and is_quantity(word, want):
        return parse_quantity(word, want)
    if is_quantity(word):
        found = parse_quantity(word)
        if found.unit or math.isinf(found.value):
            return found
        if not _TYPE.fullmatch(plain):
            raise InputError(f"{word!r} stands without a unit; write it like 4k7, 0.68u or 24V")
        return None
    if re.match(r"~?[+-]?[.,]?[0-9]", plain) and not _TYPE.fullmatch(plain):
        parse_quantity(word)  # refuses with its own remedy
    return None


def _joined(words: list[str]) -> list[str]:
    """"192 C" and "4.70 kohm" are one value: a unit standing alone goes to the number before it."""
    out: list[str] = []
    for word in words:
        bare = word.rstrip("?)")
        said = _unit_of(plain_signs(bare)) if bare else None
        lone = said is not None and (said[1] is not None or bool(said[0])) and len(bare) > 0
        if lone and out and re.fullmatch(r"[(~]*[+-]?[0-9]+(?:[.,][0-9]+)?", plain_signs(out[-1])):
            out[-1] = f"{out[-1]} {word}"
        else:
            out.append(word)
    return out


_STEPS: dict[str, tuple[tuple[float, str], ...]] = {  # from this size up, this prefix (trade style)
    "ohm": ((1e9, "G"), (1e6, "M"), (1e3, "k"), (0.1, ""), (0.0, "m")),
    "F": ((0.195e-6, "u"), (1e-9, "n"), (0.0, "p")),
    "H": ((1.0, ""), (1e-3, "m"), (0.0, "u")),
    "V": ((1e3, "k"), (0.1, ""), (0.0, "m")),
    "A": ((1.0, ""), (1e-3, "m"), (0.0, "u")),
    "W": ((1e3, "k"), (0.1, ""), (0.0, "m")),
    "Hz": ((1e9, "G"), (1e6, "M"), (1e3, "k"), (0.0, "")),
    "s": ((1.0, ""), (1e-3, "m"), (0.0, "u")),
    "VA": ((1e3, "k"), (0.0, "")),
}


def format_quantity(value: float, unit: str) -> str:
    """Three significant digits the way the trade writes them: 4.70 kohm, 323 V, 0.680 uF, OL.

    Parameters: value in SI, unit one of UNITS. Anything under a thousandth of the smallest prefix shows as 0.
    Raises: InputError for an unknown unit, DomainError for a value that is not a number.
    """
    if unit not in UNITS:
        raise InputError(f"unit {unit!r} is not known here; known: {', '.join(UNITS[:-1])}")
    if math.isnan(value):
        raise DomainError(f"there is no value to show in {_SAID[unit]}: it could not be worked out")
    if math.isinf(value):
        return "OL" if value > 0 else "-OL"
    scaled = float(f"{value * 100 if unit == '%' else value:.2e}")  # round first, so that 999.9 becomes 1.00 k
    prefix = next((p for floor, p in _STEPS.get(unit, ((0.0, ""),)) if abs(scaled) >= floor * 0.9999), "")
    digits = _three_digits(scaled * 10.0 ** -_EXPONENT[prefix])
    return f"{digits} {prefix if digits != '0' else ''}{unit}".rstrip()


def _three_digits(number: float) -> str:
    if abs(number) < 1e-3:
        return "0"
    places = 2 - math.floor(math.log10(abs(number)) + 1e-9)
    return f"{number:.{max(places, 0)}f}"
