"""What might be meant instead of a start line: every line builds, sizes go over, and each pair of sheets has marks for the eye.

SOURCE of marks and rails: common practice. Names of places and nets: the starting sheets themselves.
"""

from __future__ import annotations

import pytest

from halfsplit.circuit.sheet import Item, read_unit
from halfsplit.circuit.starting import STARTS, start_circuit
from halfsplit.circuit.starting.others import MARKS, by_eye, other_lines, size_of, start_of, translation

UNIT = read_unit(Item("set, 230V 50Hz, class II, 60W", 1, 1, "unit"))
LINES = (
    "dropper, 24V relay board",
    "dropper, 5V; no relay",
    "linear 12V 1A, 5V",
    "flyback with controller 16/10V; out 24V 1.5A",
    "flyback",
    "series chain: fuse, link 216C, stat, relay 12V, heater 350W",
)


def built(line):
    return start_circuit(line, UNIT, ())


def test_every_starting_sheet_has_its_marks():
    assert set(MARKS) == set(STARTS)


@pytest.mark.parametrize("line", LINES)
def test_every_other_line_builds_and_every_other_sheet_is_among_them(line):
    others = other_lines(line)
    assert {start_of(x).name for x in others} >= {name for name in STARTS if MARKS[name].lines} - {start_of(line).name}
    for other in others:
        assert built(other).parts
        assert 2 <= len(by_eye(line, other)) <= 3


def test_sizes_go_over():
    """Volts and amps of the output; a controller's 16/10 V is none."""
    assert size_of("flyback with controller 16/10V; out 24V 1.5A") == (24.0, 1.5)
    assert "linear 24V 1.5A" in other_lines("flyback with controller 16/10V; out 24V 1.5A")
    assert "flyback with controller 16/10V; out 18V 1.5A" in other_lines("flyback with controller 16/10V; out 24V 1.5A")
    assert {"linear 24V 0.1A", "linear 24V 1A"} <= set(other_lines("dropper, 24V relay board"))


@pytest.mark.parametrize("a", LINES)
@pytest.mark.parametrize("b", LINES)
def test_words_go_over_to_words_that_are_there(a, b):
    """A word is translated only where the other sheet hasn't got it, and into one that it has."""
    here, there = built(a), built(b)
    known = {*there.nets, *there.names}
    for old, new in translation(here, there).items():
        assert old not in known
        assert new in known or new not in {*here.nets, *here.names}


def test_the_output_and_the_first_reservoir_are_found_again():
    words = translation(built("linear 24V 1A"), built("flyback; out 24V 1A"))
    assert words["+24"] == "out"
    assert words["raw"] == "bulk"
    assert words["reservoir"] == "bulk-cap"


def test_nobody_builds_a_small_set_with_a_boost_stage_or_a_large_one_with_an_integrated_switch():
    """Common practice: a boost stage from 75 W on, an integrated switch up to some 60 W."""
    small, large = (" ".join(other_lines("linear 12V 1A", watts)) for watts in (20.0, 400.0))
    assert "PFC" not in small and "integrated" in small
    assert "PFC" in large and "integrated" not in large
