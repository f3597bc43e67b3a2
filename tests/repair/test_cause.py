"""Why it died. Rows and odds: the trade page, section 5 (common practice, odds are bench estimates)."""

import pytest

from halfsplit.circuit.model import Part
from halfsplit.parts import FAMILIES
from halfsplit.repair.cause import POWER, STATUS, cause_text, rows_for
from halfsplit.repair.cause_table import TABLE


def part(family: str, place: str | None = None, *tags: str, words: str = "") -> Part:
    return Part("X1", family, {"a": "p", "b": "q"}, place=place, tags=frozenset(tags), words=words)


def test_the_table_is_whole():
    """All 29 rows stand there in order, each with killers, checks and odds that are odds."""
    assert [row.number for row in TABLE] == list(range(1, 30))
    for row in TABLE:
        assert row.killers and row.checks
        assert 0 < row.again[0] <= row.again[1] <= 1


# odds "P" of the trade page, section 5, read there row by row
ODDS = (
    0.95,
    0.25,
    0.7,
    0.8,
    1,
    0.3,
    (0.1, 0.8),
    0.1,
    0.1,
    0.05,
    0.4,
    0.05,
    0.3,
    0.9,
    0.6,
    0.5,
    0.7,
    (0.8, 1),
    1,
    0.7,
    0.05,
    0.5,
    0.5,
    (0.1, 0.5),
    0.2,
    0.5,
    0.3,
    0.1,
    0.9,
)


def test_odds_are_those_of_the_page():
    """The chance of dying again is the printed one, a range where a range is printed."""
    assert [row.again for row in TABLE] == [odds if isinstance(odds, tuple) else (odds, odds) for odds in ODDS]


@pytest.mark.parametrize(
    ("dead", "way", "number"),
    [
        (part("fet", "switch"), "short", 3),
        (part("controller", "controller"), "dead", 4),
        (part("resistor", "sense-R"), "open", 5),
        (part("bridge", "bridge"), "short-2", 6),
        (part("electrolytic", "bulk-cap"), "dried", 7),
        (part("electrolytic", "out-cap"), "high-esr", 8),
        (part("electrolytic", "vcc-cap"), "dried", 9),
        (part("resistor", "start-up-R"), "up", 10),
        (part("bridge"), "short-2", 6),
        (part("diode", "mains-diode"), "open", 6),
        (part("diode", "rectifier", "schottky"), "short", 11),
        (part("opto", "opto"), "weak", 12),
        (part("varistor"), "short", 13),
        (part("thermal-link", "link"), "open", 14),
        (part("relay"), "welded", 16),
        (part("npn", "driver"), "short", 17),
        (part("resistor", "emitter-R"), "open", 19),
        (part("fet", None, "class-D"), "short", 20),
        (part("capacitor", "dropper-C", "x2"), "low", 21),
        (part("regulator"), "no-output", 22),
        (part("capacitor", None, "mlcc"), "short", 25),
        (part("npn", "pass"), "short", 26),
        (part("motor", "fan"), "open", 28),
        (part("npn", "upper-output"), "short", 18),
        (part("pnp", "lower-driver"), "short", 18),
        (part("npn", "switch"), "short", 3),
    ],
)
def test_the_place_finds_the_row(dead, way, number):
    """A part at its place, with its way of failing, finds the one row that is about it."""
    assert [row.number for row in rows_for(dead, way)] == [number]


@pytest.mark.parametrize("dead", [part("npn", "minus-sense"), part("npn")])
def test_a_small_transistor_is_no_flyback_switch(dead):
    """Nothing of clamps and ring tests for the transistor of a protection circuit: what its own family names."""
    assert rows_for(dead, "short") == ()
    cause = cause_text(dead, "short")
    assert "overload" in cause.killers
    assert not any("clamp" in check for check in cause.checks)


def test_a_broken_mains_lead_is_no_burnt_connector():
    assert rows_for(part("lead", "lead"), "open") == ()


def test_the_look_of_a_fuse_tells_its_rows_apart():
    """Black glass is a short, clean glass age or inrush; with neither seen both stand, and the odds span both."""
    fuse = part("fuse", "fuse")
    assert [row.number for row in rows_for(fuse, "open", looks=("black",))] == [1]
    assert [row.number for row in rows_for(fuse, "open", looks=("clean",))] == [2]
    cause = cause_text(fuse, "open")
    assert cause.again == (0.25, 0.95)
    assert {"shorted bridge", "age or inrush"} <= set(cause.killers)


def test_a_fusible_resistor_counts_as_a_fuse():
    """A fusible resistor found open is a blown fuse (trade page, section 3: "fusible resistor open = same as fuse")."""
    assert [row.number for row in rows_for(part("resistor", "fusible-R", "fusible"), "open")] == [1, 2]
    assert rows_for(part("resistor", "bleed-R"), "open") == ()


def test_a_diode_across_a_coil_is_no_bridge():
    """Only a diode that sits in the mains rectifier is taken for one."""
    assert rows_for(part("diode", "coil-diode"), "short") == ()


def test_a_relay_with_an_open_coil_was_not_welded():
    """A row about one way of failing is silent on another."""
    assert rows_for(part("relay"), "coil-open") == ()


@pytest.mark.parametrize(
    ("dead", "alone"),
    [
        (part("electrolytic", "out-cap"), True),
        (part("capacitor", "dropper-C"), True),
        (part("resistor", "start-up-R"), True),
        (part("opto"), True),
        (part("relay"), True),
        (part("fuse"), False),
        (part("resistor", "fusible-R"), False),
        (part("resistor", "gate-R"), False),
        (part("fet"), False),
        (part("thermal-link"), False),
        (part("inductor"), None),
    ],
)
def test_who_dies_alone_and_who_is_killed(dead, alone):
    """The trade's two lists: died of age by itself, or killed by another; in neither list, nobody knows."""
    assert cause_text(dead, "open").alone is alone


@pytest.mark.parametrize("family", sorted({f for row in TABLE for f in row.families} | {"inductor", "unheard-of"}))
def test_no_part_is_ever_cleared(family):
    """Whatever died, the cause is open, power is not cleared, and there is something to check."""
    for way in ("open", "short", "drift", ""):
        cause = cause_text(part(family), way)
        assert (cause.status, cause.power) == (STATUS, POWER) == ("cause open", "not cleared for power")
        assert cause.checks
        said = cause.text("X1")
        assert "cause open, not cleared for power" in said and said.count("cleared") == 1


def test_nothing_known_is_not_zero():
    """A part that no row is about has no odds of dying again, which is not the same as none."""
    cause = cause_text(part("unheard-of"), "open")
    assert cause.again is None and cause.killers == ()
    assert "not known" in cause.text("X1")


def test_the_family_names_killers_where_the_table_does_not():
    """A part that no row is about falls back on its own family's killers, still without odds."""
    cause = cause_text(part("inductor"), "open")
    assert cause.killers == FAMILIES["inductor"].killers != ()
    assert cause.again is None and cause.rows == ()
