"""What is printed on a part: colour bands, three- and four-digit codes, the E96 code, capacitor letter codes; E-series.

Source: IEC 60062 (colour table, letter codes) and IEC 60063 (series values); tests/published holds them against both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from halfsplit.errors import DomainError, InputError, UnknownName
from halfsplit.units import parse_quantity

_DIGITS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
_OTHER_NAMES = {"gray": "grey", "purple": "violet", "bk": "black", "bn": "brown", "rd": "red", "og": "orange", "ye": "yellow",
                "gn": "green", "bu": "blue", "vt": "violet", "gy": "grey", "wh": "white", "gd": "gold", "sr": "silver"}
_EXPONENT = {**{c: n for n, c in enumerate(_DIGITS)}, "gold": -1, "silver": -2, "pink": -3}
_TOLERANCE = {"brown": 0.01, "red": 0.02, "green": 0.005, "blue": 0.0025, "violet": 0.001, "gold": 0.05, "silver": 0.10}
# grey, orange and yellow changed their meaning between issues of IEC 60062, so they are not decoded as a tolerance
_TCR = {"black": 250e-6, "brown": 100e-6, "red": 50e-6, "orange": 15e-6, "yellow": 25e-6, "green": 20e-6, "blue": 10e-6,
        "violet": 5e-6, "grey": 1e-6}
_LETTERS = {"B": 0.001, "C": 0.0025, "D": 0.005, "F": 0.01, "G": 0.02, "H": 0.03, "J": 0.05, "K": 0.10, "M": 0.20, "N": 0.30,
            "W": 0.0005, "P": 0.0002, "L": 0.0001, "E": 0.00005}
_UNEVEN = {"Q": (-0.10, 0.30), "S": (-0.20, 0.50), "T": (-0.10, 0.50), "Z": (-0.20, 0.80)}
_E96_TIMES = {"Z": 1e-3, "Y": 1e-2, "R": 1e-2, "X": 1e-1, "S": 1e-1, "A": 1.0, "B": 10.0, "H": 10.0, "C": 1e2, "D": 1e3,
              "E": 1e4, "F": 1e5}


@dataclass(frozen=True)
class Banded:
    """A resistor read from its colours. ohms [ohm], tolerance as a fraction, tcr [1/K] or None if no band says it."""

    ohms: float
    tolerance: float
    tcr: float | None = None


def _colour(word: str) -> str:
    low = word.strip().lower()
    low = _OTHER_NAMES.get(low, low)
    if low not in _EXPONENT:
        raise UnknownName("colour", word, _EXPONENT)
    return low


def decode_bands(colours: Sequence[str]) -> Banded:
    """A resistor's bands, in their order: 3 or 4 (two digits), 5 (three digits), 6 (and temperature).

    Raises: UnknownName for a colour, DomainError for a count or for a colour that cannot stand there.
    """
    bands = [_colour(c) for c in colours]
    if not 3 <= len(bands) <= 6:
        raise DomainError(f"{len(bands)} bands are not a resistor; give 3 to 6 colours from the end nearest the lead")
    figures = 2 if len(bands) <= 4 else 3
    digits = bands[:figures]
    if strange := [c for c in digits if c not in _DIGITS]:
        raise DomainError(f"{strange[0]} is no digit; read the bands from the other end")
    if len(bands) == 3:
        tolerance = 0.20
    elif bands[figures + 1] in _TOLERANCE:
        tolerance = _TOLERANCE[bands[figures + 1]]
    else:
        raise DomainError(f"{bands[figures + 1]} as tolerance is not certain; measure, or read from the other end")
    if len(bands) == 6 and bands[5] not in _TCR:
        raise DomainError(f"{bands[5]} is no temperature band; read the bands from the other end")
    mantissa = int("".join(str(_EXPONENT[c]) for c in digits))
    return Banded(float(f"{mantissa}e{_EXPONENT[bands[figures]]}"), tolerance, _TCR[bands[5]] if len(bands) == 6 else None)


def decode_digits(text: str, unit: str) -> float:
    """A printed code of digits: 104 is 100 nF on a capacitor and 100 kohm on a resistor; 4702 has three figures.

    A capacitor's last digit 8 or 9 means x 0.01 or x 0.1 (common practice). unit is "ohm" or "F".
    Returns: the value in SI. Raises: InputError for anything else.
    """
    if unit not in ("ohm", "F"):
        raise InputError(f"a digit code says ohms or farads, not {unit!r}; ask for one of these")
    code = text.strip()
    if not (code.isascii() and code.isdigit()) or not (len(code) == 3 or (len(code) == 4 and unit == "ohm")):
        raise InputError(f"{text!r} is no digit code; it has three digits, or four on a close resistor")
    if code[0] == "0" and set(code) != {"0"}:
        raise InputError(f"{text!r}: a digit code does not start with 0; look again, or write the value like 4k7")
    power = int(code[-1])
    if unit == "F":
        return float(f"{code[:-1]}e{(power if power < 8 else power - 10) - 12}")
    return float(f"{code[:-1]}e{power}")


def decode_e96(text: str) -> float:
    """A two-digit place in E96 and a letter: 01A is 100 ohm, 68C is 49.9 kohm (industry practice). Returns ohms."""
    code = text.strip().upper()
    if len(code) != 3 or not (code[:2].isascii() and code[:2].isdigit()) or code[2] not in _E96_TIMES:
        raise InputError(f"{text!r} is no E96 code; it is two digits and a letter, like 01A")
    index = int(code[:2])
    if not 1 <= index <= 96:
        raise DomainError(f"{text!r}: the first two digits go from 01 to 96; look again")
    return round(100 * series("E96")[index - 1]) * _E96_TIMES[code[2]]


def decode_capacitor(text: str) -> float:
    """What stands on a small capacitor: 104, 3n3, p33, m33. Returns farads. Raises InputError."""
    code = text.strip()
    if len(code) == 3 and code.isascii() and code.isdigit():
        return decode_digits(code, "F")
    return parse_quantity(code, "F").value


def tolerance_of(letter: str) -> tuple[float, float]:
    """(lower, upper) as fractions for a tolerance letter: J is (-0.05, 0.05), Z is (-0.2, 0.8). Raises UnknownName."""
    if letter in _UNEVEN:
        return _UNEVEN[letter]
    if letter not in _LETTERS:
        raise UnknownName("tolerance letter", letter, [*_LETTERS, *_UNEVEN])
    return -_LETTERS[letter], _LETTERS[letter]


_E24 = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1)
SERIES = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")


@cache
def series(name: str) -> tuple[float, ...]:
    """The values of one decade, 1 <= value < 10. name is one of SERIES. Raises UnknownName."""
    if name not in SERIES:
        raise UnknownName("E-series", name, SERIES)
    count = int(name[1:])
    if count <= 24:
        return _E24[:: 24 // count]
    rounded = (round(10 ** (n / count), 2) for n in range(count))
    return tuple(9.20 if v == 9.19 else v for v in rounded)  # the one value of E192 that IEC 60063 does not round


def nearest_value(value: float, name: str = "E24") -> float:
    """The value of the series nearest by ratio. value > 0, SI. Raises DomainError, UnknownName."""
    if not (value > 0 and math.isfinite(value)):
        raise DomainError(f"{value!r} has no nearest series value; give a value above 0")
    decade = math.floor(math.log10(value))
    near = [float(f"{step!r}e{power}") for power in (decade - 1, decade, decade + 1) for step in series(name)]
    return min((v for v in near if v > 0), key=lambda v: abs(math.log(v / value)))
