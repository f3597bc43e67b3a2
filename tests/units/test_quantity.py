"""Bench values in and out."""

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.errors import DomainError, InputError
from halfsplit.units import UNITS, Quantity, format_quantity, is_quantity, parse_quantity, parse_ratings

WRITTEN = [
    ("4k7", 4700.0, "ohm"), ("4K7", 4700.0, "ohm"), ("R47", 0.47, "ohm"), ("0R27", 0.27, "ohm"), ("1R8", 1.8, "ohm"),
    ("R27", 0.27, "ohm"), ("5u6", 5.6e-6, "F"), ("M47", 0.47e6, "ohm"), ("1meg", 1e6, "ohm"), ("1Meg5", 1.5e6, "ohm"),
    ("4,7k", 4700.0, "ohm"), ("100n", 100e-9, "F"), ("2n2", 2.2e-9, "F"), ("0.68u", 0.68e-6, "F"), ("470p", 470e-12, "F"),
    ("0.68\u00b5", 0.68e-6, "F"), ("0.68\u03bcF", 0.68e-6, "F"), ("47\u03a9", 47.0, "ohm"), ("47\u2126", 47.0, "ohm"),
    ("47R", 47.0, "ohm"), ("47r", 47.0, "ohm"), ("\u221212V", -12.0, "V"), ("-12V", -12.0, "V"), ("24V", 24.0, "V"),
    ("5V1", 5.1, "V"),
    ("1.3W", 1.3, "W"), ("1/4W", 0.25, "W"), ("192C", 192.0, "C"), ("192 C", 192.0, "C"), ("1440R", 1440.0, "ohm"),
    ("3VA", 3.0, "VA"), ("231V", 231.0, "V"), ("20mR", 0.02, "ohm"), ("1.1s", 1.1, "s"), ("50Hz", 50.0, "Hz"),
    ("5%", 0.05, "%"), ("10M", 10e6, "ohm"), ("10uF", 10e-6, "F"), ("10UF", 10e-6, "F"), ("1mH", 1e-3, "H"),
    ("0,220u", 0.22e-6, "F"), ("4.70 kohm", 4700.0, "ohm"), ("4700", 4700.0, ""), ("0.58", 0.58, ""), ("+24", 24.0, ""),
]


@pytest.mark.parametrize(("text", "value", "unit"), WRITTEN)
def test_trade_notation(text: str, value: float, unit: str) -> None:
    """Every way the bench writes a value gives exactly that value."""
    assert parse_quantity(text) == Quantity(value, unit)


@pytest.mark.parametrize(("text", "value", "mark"), [("T10A", 10.0, "T"), ("T2A", 2.0, "T"), ("F500mA", 0.5, "F"),
                                                     ("T3.15A", 3.15, "T"), ("T3,15A", 3.15, "T"), ("FF4A", 4.0, "FF")])
def test_fuses(text: str, value: float, mark: str) -> None:
    """A fuse is amps with its speed letter."""
    assert parse_quantity(text) == Quantity(value, "A", mark=mark)


def test_doubt_about_and_open() -> None:
    """(330R?) is doubtful, ~12mA is about, OL is open, ac and dc are kept."""
    assert parse_quantity("(330R?)") == Quantity(330.0, "ohm", doubtful=True)
    assert parse_quantity("12V?") == Quantity(12.0, "V", doubtful=True)
    assert parse_quantity("~12mA") == Quantity(0.012, "A", about=True)
    assert parse_quantity("OL", "ohm") == Quantity(math.inf, "ohm")
    assert parse_quantity("ol").value == math.inf
    assert parse_quantity("119ac") == Quantity(119.0, "V", mark="ac")
    assert parse_quantity("275VAC") == Quantity(275.0, "V", mark="ac")


@pytest.mark.parametrize("text", [
    "", " ", "?", "~", "()", "k", "R", "uF", "4k7k", "4R7k", "1.5k5", "R47R7", "K1", "U2", "P1", "C7", "Q1.b", "1N4148",
    "1n4148", "1N914", "1n914", "2N2222", "78M05", "1,000", "1,5,0k", "1,000.5", "1e3", "0x10", "3..9", "4k7 5k6",
    "2.2uF 450V", "5MA",
    "10MF", "50mHz", "1S", "20m", "1.2.3", "--5V", "5V-", "banana", "\u0664\u0667k", "4\u00b2k", "12 34", "nan", "-inf",
    "9" * 41, "9" * 30 + "k",
])
def test_junk_is_refused_with_its_text(text: str) -> None:
    """What is not certain is refused, never read as something near."""
    with pytest.raises(InputError) as caught:
        parse_quantity(text)
    assert repr(text)[:20] in str(caught.value)


def test_refusal_names_the_remedy() -> None:
    """A slip of the shift key is named; a thousands comma is asked about."""
    with pytest.raises(InputError, match="did you mean m"):
        parse_quantity("5MA")
    with pytest.raises(InputError, match="thousands"):
        parse_quantity("1,000")
    with pytest.raises(InputError, match="type number"):
        parse_quantity("1n914")


def test_wanted_unit() -> None:
    """A bare number takes the unit wanted; another written unit is refused."""
    assert parse_quantity("330", "ohm") == Quantity(330.0, "ohm")
    assert parse_quantity("1k2", "V") == Quantity(1200.0, "V")
    assert parse_quantity("20m", "ohm") == Quantity(0.02, "ohm")
    with pytest.raises(InputError, match="volts.*ohms"):
        parse_quantity("24V", "ohm")
    with pytest.raises(InputError, match="has no size"):
        parse_quantity("104", "F")
    with pytest.raises(InputError, match="not known"):
        parse_quantity("1", "bar")
    with pytest.raises(DomainError, match="negative"):
        parse_quantity("-4k7")


@pytest.mark.parametrize(("value", "unit", "shown"), [
    (4700.0, "ohm", "4.70 kohm"),
    (323.4, "V", "323 V"), (0.68e-6, "F", "0.680 uF"), (999.9, "ohm", "1.00 kohm"), (100e-9, "F", "100 nF"),
    (0.02, "ohm", "20.0 mohm"), (0.58, "V", "0.580 V"), (1000e-6, "F", "1000 uF"), (0.5, "A", "500 mA"), (math.inf, "ohm", "OL"),
    (0.0, "V", "0 V"), (-12.04, "V", "-12.0 V"),
    (192.0, "C", "192 C"), (0.05, "%", "5.00 %"), (1440.0, "ohm", "1.44 kohm"), (2.495, "", "2.50"),
])
def test_shown(value: float, unit: str, shown: str) -> None:
    """Three significant digits with the prefix the trade uses."""
    assert format_quantity(value, unit) == shown


def test_nothing_shown_for_no_number() -> None:
    """A value that could not be worked out is never shown as one."""
    with pytest.raises(DomainError):
        format_quantity(math.nan, "V")
    with pytest.raises(InputError):
        format_quantity(1.0, "bar")


LOWEST = {
    "ohm": 1e-5, "F": 1e-14, "H": 1e-8, "V": 1e-5, "A": 1e-8, "W": 1e-5, "Hz": 1e-2, "s": 1e-8, "C": 1e-2, "VA": 1e-2,
    "%": 1e-4, "": 1e-2,
}


@settings(max_examples=300, derandomize=True)
@given(st.sampled_from(UNITS), st.floats(0.0, 12.0), st.booleans())
def test_what_is_shown_reads_back(unit: str, decades: float, minus: bool) -> None:
    """Shown and read again, a value is itself to half of the third digit, in its own unit."""
    value = LOWEST[unit] * 10**decades * (-1 if minus and unit in ("V", "A", "W", "C") else 1)
    again = parse_quantity(format_quantity(value, unit))
    assert again.unit == unit
    assert again.value == pytest.approx(value, rel=0.00501)  # half of the last of three digits


@settings(max_examples=300, derandomize=True)
@given(st.integers(1, 77), st.sampled_from("kMunp"), st.integers(0, 99))
def test_letter_for_point_equals_the_point(whole: int, letter: str, part: int) -> None:
    """4k7 and 4.7k are the same value, for every multiplier."""
    assert parse_quantity(f"{whole}{letter}{part}") == parse_quantity(f"{whole}.{part}{letter}")


NUMBER = re.compile(
    r"^\s*\(?~?\s*(?:TT|FF|[TFM])?[+\-\u2212\u2013\u2010\u2011]?\s*"
    r"(?:[0-9]|[.,][0-9]|[RrMmunp\u00b5\u03bc][0-9]|0L|O\.?L|INF|\u221e)", re.I)


@settings(max_examples=500, derandomize=True)
@given(st.one_of(st.text(max_size=12), st.text(alphabet="0123456789.,RrkKMmunpFVAHzC?~()+-% ", max_size=9)))
def test_random_text_is_a_value_or_an_input_error(text: str) -> None:
    """Any text is either refused as an input error or is a finite value (or OL) with a known unit and a leading number."""
    try:
        found = parse_quantity(text)
    except InputError as refused:
        assert str(refused)
        assert not is_quantity(text)
        return
    assert found.unit in UNITS and not math.isnan(found.value)
    assert NUMBER.match(text)


def test_ratings() -> None:
    """Several values in one text keep their order; words stay words."""
    found = parse_ratings("2.2uF 450V X2")
    assert [(q.value, q.unit) for q in found.quantities] == [(2.2e-6, "F"), (450.0, "V")] and found.words == ("X2",)
    fuse = parse_ratings("T2A 250V").quantities
    assert [(q.value, q.unit, q.mark) for q in fuse] == [(2.0, "A", "T"), (250.0, "V", "")]
    assert parse_ratings("npn 1N4148 817-type 78L05 2N3904 431").words == ("npn", "1N4148", "817-type", "78L05", "2N3904", "431")
    assert parse_ratings("192 C").quantities == (Quantity(192.0, "C"),)
    assert parse_ratings("330", want="ohm").quantities == (Quantity(330.0, "ohm"),)


@pytest.mark.parametrize("text", ["9zz", "24", "5MA", "1.2.3 V"])
def test_ratings_refuse_what_only_starts_like_a_number(text: str) -> None:
    """A word that starts like a number and is neither value nor type number is refused."""
    with pytest.raises(InputError):
        parse_ratings(text)
