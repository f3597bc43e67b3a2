"""The bench kit file: what is on it counts, what is not on it, or doubted, isn't there."""

from pathlib import Path

import pytest

from halfsplit.errors import InputError, SheetError
from halfsplit.jobs.kit import default_kit, functions_available, read_kit

EXAMPLE = Path(__file__).parents[2] / "examples" / "bench-kit.yaml"
LEAST = "meter:\n  stands: CAT II 600V\n"


def test_the_example_is_read_whole():
    """The example bench has a 600 V CAT III meter, five lamps, isolation for sets up to half of 250 VA, and a discharge tool."""
    kit = read_kit(EXAMPLE.read_text())
    assert (kit.rating, kit.category, kit.ohms, kit.counts) == (600.0, 3, 10e6, 4000)
    assert kit.lamps == (25, 40, 60, 100, 150)
    assert (kit.isolation, kit.supply, kit.tool_ohms, kit.tool_watts) == (250.0, (30.0, 3.0), 2200.0, 10.0)
    assert functions_available(kit) == {"v", "ac", "r", "d", "c", "esr", "max", "min"}
    assert kit.doubts == ()


def test_error_is_percent_of_reading_and_digits_of_the_range():
    """0.5 % + 3 digits on 5 V, 6 V range, 4000 counts: 25 mV + 4.5 mV (percent and digits convention, recalled; computed)."""
    kit = read_kit(EXAMPLE.read_text())
    assert kit.error("v", 5.0) == pytest.approx(0.005 * 5 + 3 * 6 / 4000)
    assert kit.error("v", -5.0) == kit.error("max", 5.0) == kit.error("v", 5.0)
    assert kit.limit("r") == 40e6 and kit.limit("d") == 2.0


def test_what_is_left_out_is_not_there():
    """A file that names only the meter has no lamp, no isolation, no supply, no ESR meter, no tool and no peak hold."""
    kit = read_kit(LEAST)
    assert (kit.lamps, kit.isolation, kit.supply, kit.tool_ohms, kit.hold) == ((), None, None, None, None)
    assert functions_available(kit) == {"v", "ac", "r", "d"}


def test_nobody_said_anything():
    """Without a file nothing that a hand depends on is assumed: no rating, no isolation."""
    kit = default_kit()
    assert kit.rating is None and kit.isolation is None and kit.lamps == ()
    assert functions_available(kit) == {"v", "ac", "r", "d"}


def test_a_doubted_value_is_not_there():
    """A question mark in the kit is a no, and the kit says which."""
    kit = read_kit("meter:\n  stands: CAT II 600V?\nisolation transformer: 250VA?\nlamps: 40W 60W?\nbench supply: 30V ~3A\n")
    assert (kit.rating, kit.isolation, kit.lamps, kit.supply) == (None, None, (40.0,), None)
    assert set(kit.doubts) == {"stands", "isolation transformer", "lamps", "bench supply"}


def test_none_takes_a_function_away():
    """`c: none` or `esr meter: none`: the function can't be read, and asking for its error says so."""
    kit = read_kit(LEAST + "  d: none\nesr meter: none\ncapacitance meter: 3% + 5\n")
    assert functions_available(kit) == {"v", "ac", "r", "c"}
    with pytest.raises(InputError, match="cannot read 'esr'"):
        kit.error("esr", 1.0)


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("lamps: 60W\n", None, "stands"),
        (LEAST + "lamp: 60W\n", 3, "did you mean lamps"),
        (LEAST + "lamps: 60V\n", 3, "watts are wanted"),
        (LEAST + "lamps: 0W\n", 3, "above 0"),
        (LEAST + "lamps: OL\n", 3, "above 0"),
        (LEAST + "lamps: 60W\nlamps: 40W\n", 4, "twice"),
        (LEAST + "lamps:\n- 60W\n", 4, "one line of text"),
        (LEAST + "  v: about right\n", 3, "percent of reading"),
        (LEAST + "  v: 60%\n", 3, "no meter"),
        (LEAST + "  counts: many\n", 3, "full display"),
        (LEAST + "bench supply: 30V\n", 3, "two values"),
        ("meter:\n  stands: CAT I 600V\n", 2, "CAT I is not"),
        ("meter:\n  stands: 600V\n", 2, "beside the sockets"),
        ("meter: good\n", 1, "lines of their own"),
        ("", 1, "first key is meter"),
        ("meter:\n\tstands: CAT II 600V\n", 2, "tab"),
        ("meter: [\n", 2, "can't be read"),
    ],
)
def test_a_fault_names_its_line_and_the_remedy(text, line, said):
    """Each fault of a kit file is a SheetError at its line, in words that a technician understands."""
    with pytest.raises(SheetError, match=said) as caught:
        read_kit(text)
    assert caught.value.line == line
