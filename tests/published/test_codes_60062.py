"""Marking codes against IEC 60062 and industry practice (data/codes_60062.csv; its column mark says read or recalled)."""

import csv
import re
from pathlib import Path

import pytest

from halfsplit.errors import DomainError, InputError, UnknownName
from halfsplit.units import format_quantity, parse_quantity
from halfsplit.units_codes import decode_bands, decode_capacitor, decode_digits, decode_e96, tolerance_of

ROWS = list(csv.DictReader((Path(__file__).parent / "data" / "codes_60062.csv").read_text(encoding="utf-8").splitlines()))


def rows(kind: str) -> list[dict[str, str]]:
    found = [r for r in ROWS if r["kind"] == kind]
    assert found, kind
    return found


def stated(text: str) -> float:
    """The table's own plain words, '4.7 kohm', read without the program."""
    number, unit = text.split()
    return float(number) * {"ohm": 1, "kohm": 1e3, "Mohm": 1e6, "pF": 1e-12, "nF": 1e-9, "uF": 1e-6, "mF": 1e-3}[unit]


@pytest.mark.parametrize("row", rows("rkm_example"), ids=lambda r: r["symbol"])
def test_letter_for_point_on_resistors(row: dict[str, str]) -> None:
    """R47, 4K7, 47K3 read as the table says."""
    found = parse_quantity(row["symbol"])
    assert (found.value, found.unit) == (pytest.approx(stated(row["value"]), rel=1e-12), "ohm")


@pytest.mark.parametrize("row", rows("rkm_capacitor"), ids=lambda r: r["symbol"])
def test_letter_for_point_on_capacitors(row: dict[str, str]) -> None:
    """p33, 3n3, m33 read as the table says."""
    assert decode_capacitor(row["symbol"]) == pytest.approx(stated(row["value"]), rel=1e-12)


@pytest.mark.parametrize("row", rows("digit"), ids=lambda r: r["symbol"])
def test_digit_colours(row: dict[str, str]) -> None:
    """Each colour is its digit, in both places."""
    value = int(row["value"])
    assert decode_bands([row["symbol"], "black", "black", "gold"]).ohms == 10 * value
    assert decode_bands(["brown", row["symbol"], "black"]).ohms == 10 + value


@pytest.mark.parametrize("row", rows("multiplier_exponent"), ids=lambda r: r["symbol"])
def test_multiplier_colours(row: dict[str, str]) -> None:
    """Each multiplier colour is its power of ten, with two and with three figures."""
    power = 10.0 ** int(row["value"])
    assert decode_bands(["yellow", "violet", row["symbol"], "gold"]).ohms == pytest.approx(47 * power, rel=1e-12)
    assert decode_bands(["red", "red", "black", row["symbol"], "brown"]).ohms == pytest.approx(220 * power, rel=1e-12)


@pytest.mark.parametrize("row", [r for r in rows("tolerance_pct") if not r["note"]], ids=lambda r: r["symbol"])
def test_tolerance_colours(row: dict[str, str]) -> None:
    """Each tolerance colour is its per cent; no fourth band is 20 %. Colours that changed between issues carry a note."""
    bands = ["brown", "black", "red"] + ([] if row["symbol"] == "none" else [row["symbol"]])
    assert decode_bands(bands).tolerance == pytest.approx(float(row["value"].split()[0]) / 100, rel=1e-12)


def test_colours_that_changed_between_issues_are_not_guessed() -> None:
    """Grey as a tolerance meant two things; it is refused rather than guessed."""
    noted = [r["symbol"] for r in rows("tolerance_pct") if r["note"]]
    assert noted == ["grey"]
    with pytest.raises(DomainError, match="grey"):
        decode_bands(["brown", "black", "red", "grey"])


@pytest.mark.parametrize("row", rows("tcr_ppm_per_K"), ids=lambda r: r["symbol"])
def test_temperature_colours(row: dict[str, str]) -> None:
    """The sixth band is ppm per kelvin."""
    found = decode_bands(["brown", "black", "black", "red", "brown", row["symbol"]])
    assert found.tcr == pytest.approx(float(row["value"].split()[0]) * 1e-6, rel=1e-12)
    assert found.ohms == 10e3


@pytest.mark.parametrize("row", rows("tolerance_letter"), ids=lambda r: r["symbol"])
def test_tolerance_letters(row: dict[str, str]) -> None:
    """Each letter is its per cent, even or uneven."""
    low, high = tolerance_of(row["symbol"])
    if uneven := re.match(r"-(\d+) \+(\d+) %", row["value"]):
        assert (low, high) == (pytest.approx(-int(uneven[1]) / 100), pytest.approx(int(uneven[2]) / 100))
    else:
        per_cent = float(row["value"].split()[0])
        assert high == pytest.approx(per_cent / 100, rel=1e-12) and low == -high


def test_three_digits() -> None:
    """104 is 100 nF, 472 is 4.7 nF on a capacitor and 4700 ohm on a resistor; last digit 8 and 9 divide."""
    said = {r["symbol"]: r["value"] for r in rows("three_digit")}
    assert said["104"].startswith("100 nF") and said["472"] == "4.7 nF on a capacitor; 4700 ohm on a resistor"
    assert said["8 or 9 as last digit (capacitor)"] == "x0.01 or x0.1 pF"
    assert decode_digits("104", "F") == pytest.approx(100e-9, rel=1e-12)
    assert decode_digits("472", "F") == pytest.approx(4.7e-9, rel=1e-12)
    assert decode_digits("472", "ohm") == 4700
    assert decode_digits("478", "F") == pytest.approx(0.47e-12, rel=1e-12)
    assert decode_digits("479", "F") == pytest.approx(4.7e-12, rel=1e-12)
    assert decode_digits("4702", "ohm") == 47e3


def test_e96_code_letters() -> None:
    """The letter is the multiplier of the table, on the first E96 value (100)."""
    text = next(r["value"] for r in rows("three_digit") if r["symbol"] == "EIA-96")
    pairs = re.findall(r"([A-Z](?:/[A-Z])?) (\.?\d+k?)(?= |$)", text.split("letter ")[1])
    assert len(pairs) == 9
    for letters, times in pairs:
        factor = float(times.rstrip("k")) * (1000 if times.endswith("k") else 1)
        for letter in letters.split("/"):
            assert decode_e96(f"01{letter}") == pytest.approx(100 * factor, rel=1e-12)


@pytest.mark.parametrize("code", ["", "10", "1045", "1O4", "047", "-10", "10.4"])
def test_what_is_no_digit_code_is_refused(code: str) -> None:
    """Nothing but three digits is a capacitor's code."""
    with pytest.raises(InputError):
        decode_digits(code, "F")


def test_bands_that_cannot_be() -> None:
    """Gold in the first place, an unknown colour, two bands: each is refused."""
    with pytest.raises(DomainError, match="other end"):
        decode_bands(["gold", "red", "violet", "yellow"])
    with pytest.raises(UnknownName, match="yellow"):
        decode_bands(["yelow", "violet", "red"])
    with pytest.raises(DomainError, match="2 bands"):
        decode_bands(["red", "red"])
    with pytest.raises(DomainError):
        decode_e96("97A")
    with pytest.raises(UnknownName):
        tolerance_of("V")


def test_codes_are_shown_in_trade_style() -> None:
    """What was decoded is shown with three figures."""
    assert format_quantity(decode_digits("104", "F"), "F") == "100 nF"
    assert format_quantity(decode_bands(["yellow", "violet", "red", "gold"]).ohms, "ohm") == "4.70 kohm"
