"""Slips of the hand and mistakes that last: weighed where the reading really came from, and asked about by their name."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.diagnosis.cells import cells_of, slipped
from halfsplit.diagnosis.elsewhere import ACROSS, Elsewhere
from halfsplit.diagnosis.mistakes import Mistake, standard_mistakes
from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.posterior import DEFAULT, posterior
from halfsplit.diagnosis.scale import METER
from halfsplit.diagnosis.slips import put_wrong, written_wrong
from halfsplit.jobs.lists import doubt_of
from slip_cases import count, question, sheet_of, weighed_of

THREE = (Row("", "nothing wrong", 0.05), Row("A", "open", 1.0), Row("B", "open", 1.0))


def column(key, function="r", red="a", black="b", state="dead", **more):
    span = {"r": 2e7, "d": 2.0}.get(function, 50.0)
    limit = {"r": 61e6, "d": 2.5}.get(function, math.inf)
    return Column(key, function, red, black, key, state, live=state == "on", span=span, limit=limit, **more)


def outlook_of(columns, cells, rows=THREE, draws=16):
    rng = np.random.default_rng(1)
    value = np.asarray(cells, dtype=np.float64)[:, :, None] * np.exp(0.02 * rng.standard_normal((len(rows), 1, draws)))
    return Outlook(tuple(rows), tuple(columns), value, np.zeros(value.shape[:2], dtype=bool))


def part(ref, family="resistor", ohms=1e3, **pins):
    return Part(ref, family, pins, {"ohms": ohms} if family == "resistor" else {})


def circuit(*parts):
    return Circuit(Unit("set", 230.0, 50.0, "II", 10.0), parts, {"hot": "N"})


# --- where a reading may really come from --------------------------------------------------------------------------------------


def test_kilo_read_as_mega_and_back_but_nothing_below_an_ohm():
    """430k may have been 430 or 430M; 0.2 ohm is read with no prefix, so 200 ohm never were 0.2 ohm misread; OL has none."""
    outlook = outlook_of([column("R1")], [[1e3], [1e3], [1e3]])
    named, elsewhere = written_wrong(outlook), Elsewhere(outlook, METER)
    for value, factors in ((430e3, {1e3, 1e-3}), (200.0, {1e-3}), (0.2, {1e-3})):
        ways, _ = slipped(outlook, Reading(0, value), named, elsewhere)
        assert {w.way.factor for w in ways if w.name == "prefix"} == factors
    assert sum(w.mass for w in slipped(outlook, Reading(0, math.inf), named, elsewhere)[0]).max() < 0.009


def test_the_density_of_a_misread_prefix_is_that_of_the_right_value_and_is_one_in_all():
    """Sum over all readings that the slip can give: one, so it neither wins nor loses by its form."""
    outlook = outlook_of([column("R1")], [[4.7e3], [4.7e3], [4.7e3]])
    elsewhere, step = Elsewhere(outlook, METER), 0.002
    z = np.arange(0.0, 8.0, step)  # decades
    total = sum(float(elsewhere.density(Reading(0, 10**x - 0.3), 0, 1e3)[0]) for x in z) * step
    assert total == pytest.approx(1.0, abs=0.02)
    assert elsewhere.density(Reading(0, 4.7e6), 0, 1e3)[0] > 100 * elsewhere.density(Reading(0, 4.7e3), 0, 1e3)[0]


def test_the_pin_beside_is_the_one_before_or_after_in_the_parts_own_order():
    """U1 has the pins a, b, c, d on nets of that name: beside b are a and c. d is not, and a net read against itself is none."""
    nets = "abcd"
    columns = [column(n, "v", n, "N", "on") for n in nets]
    outlook = outlook_of(columns, [[1.0, 2.0, 3.0, 4.0]] * 3)
    ic = Part("U1", "ic", {n: n for n in nets})
    beside = next(s for s in put_wrong(outlook, circuit(ic), range(4)) if s.name == "pin beside")
    assert {w.column for w in beside.ways[1]} == {0, 2}
    assert sum(w.share for w in beside.ways[1]) == pytest.approx(1.0)
    assert {w.column for w in beside.ways[3]} == {2}


def test_the_twin_is_the_other_part_of_the_same_family_and_value():
    """R8 and R9 are both 1 k, R7 is 2 k, C1 no resistor: reading R9 the value may be R8's, and no other's."""
    parts = (part("R7", ohms=2e3, a="p", b="N"), part("R8", a="q", b="N"), part("R9", a="r", b="N"), part("C1", "capacitor", a="s", b="N"))
    columns = [column(p.ref, red=p.pins["a"], black="N") for p in parts]
    twin = next(s for s in put_wrong(outlook_of(columns, [[2e3, 1e3, 1e3, 9e3]] * 3), circuit(*parts), range(4)) if s.name == "twin part")
    assert {i: [w.column for w in ways] for i, ways in twin.ways.items()} == {1: [2], 2: [1]}


def test_swapped_leads_show_minus_the_volts_and_the_other_way_round_of_a_junction():
    """Volts turn their sign; a diode test is the column with red and black changed over; where there is none there is no slip."""
    outlook = outlook_of([column("n", "v", "n", "0", "on"), column("D1", "d", "a", "b"), column("D1r", "d", "b", "a"), column("D2", "d", "c", "b")],
                         [[12.0, 0.6, 2.0, 0.6]] * 3)
    swapped = next(s for s in written_wrong(outlook) if s.name == "leads swapped")
    assert {i: (w[0].column, w[0].factor) for i, w in swapped.ways.items()} == {0: (0, -1.0), 1: (2, 1.0), 2: (1, 1.0)}


# --- what they do to the odds ---------------------------------------------------------------------------------------------------


def five(kinds="rrrrr"):
    """Five places; A moves the first two, B the last two."""
    base = np.array([4.7e3, 10e3, 33e3, 2.2e3, 68e3])
    cells = [base, base * [3, 3, 1, 1, 1], base * [1, 1, 1, 3, 3]]
    return outlook_of([column(f"R{k}", f, f"n{k}") for k, f in enumerate(kinds)], cells)


def test_a_misread_prefix_is_named_with_the_value_that_was_meant():
    """A is open; its second place, 30 k, is written down as 30 M: A stays first, and the question offers 30 k."""
    outlook = five()
    values = [14.1e3, 30e6, 33e3, 2.2e3, 68e3]
    post = posterior(outlook, [Reading(j, v) for j, v in enumerate(values)])
    assert post.part_odds["A"] > 0.9
    assert (post.doubts[0].name, post.doubts[0].readings) == ("prefix", (1,))
    assert post.doubts[0].odds > 0.9
    asked = question(outlook, post)
    assert asked["lines"] == [2] and asked["type"]["wrong"] == "no 2" and asked["type"]["yes"] == "no 2 was 30k"
    last = posterior(outlook, [Reading(j, values[j]) for j in (0, 2, 3, 4, 1)])
    assert question(outlook, last)["type"] == {"yes": "was 30k", "wrong": "no 5", "no": "same"}


def test_the_same_again_takes_the_slip_away():
    """30 ohm where A, which all else says is open, has 30 k: a prefix. Read again with the same outcome it has to have slipped
    twice, and something else than a slip is wrong."""
    outlook = five()
    once = [Reading(j, v) for j, v in enumerate([14.1e3, 30.0, 33e3, 2.2e3, 68e3])]
    odds = []
    for readings in (once, [*once, once[1]], [*once, once[1], once[1]]):
        post = posterior(outlook, readings)
        odds.append(max((d.odds for d in post.doubts if d.readings == (1,)), default=0.0))
    assert odds[0] > 0.9
    assert max(odds[1:]) < 0.3 * odds[0]


def test_a_shaky_hand_slips_eight_times_as_often_in_any_way():
    """A reading said to be shaky has eight times the mass of every way of being wrong."""
    outlook = five()
    named = written_wrong(outlook)
    firm, shaky = (cells_of(outlook, [Reading(1, 30e6, shaky=s)], named=named).slips for s in (False, True))
    assert shaky.mass[1, 0] == pytest.approx(8 * firm.mass[1, 0])
    assert shaky.chance[0] == pytest.approx(8 * firm.chance[0])


def test_without_slips_nothing_is_doubted():
    """Textbook logic takes every reading as it stands."""
    post = posterior(five(), [Reading(0, 14.1e3), Reading(1, 30e6)], setting=replace(DEFAULT, slips=False, mistakes=0.0))
    assert post.doubts == ()


def test_a_flat_battery_is_one_factor_for_all_and_not_five_faults():
    """Everything 18 % high: the battery is doubted from the first entry on, and nobody is blamed for it."""
    outlook = five()
    post = posterior(outlook, [Reading(j, 1.18 * float(outlook.value[1, j].mean())) for j in range(5)])
    assert (post.doubts[0].name, post.doubts[0].readings) == ("flat meter battery", (0, 1, 2, 3, 4))
    assert post.part_odds["A"] > 0.9


def test_a_lamp_left_in_is_the_same_row_in_the_other_state_and_its_line_is_offered():
    """Volts worked out for the state behind the lamp, one a row: the rail sags as A's rail behind the lamp does, and only so."""
    columns = [column(f"n{k}", "v", f"n{k}", "0", "on") for k in range(3)]
    outlook = outlook_of(columns, [[24.0, 12.0, 5.0], [24.0, 12.0, 0.0], [24.0, 0.0, 5.0]])
    behind = [np.array(x) for x in ([9.0, 9.0, 9.0], [4.0, 4.0, 0.0], [2.0, 0.0, 2.0])]
    lamp = Mistake("lamp still in", "was the 60 W lamp in series?", dict(enumerate(behind)), type="lamp 60")
    post = posterior(outlook, [Reading(0, 9.1), Reading(1, 4.05), Reading(2, 0.0)], mistakes=(*standard_mistakes(outlook), lamp))
    assert (post.doubts[0].name, post.doubts[0].readings) == ("lamp still in", (0, 1, 2))
    assert next(iter(post.part_odds)) == "A"
    assert question(outlook, post)["type"]["yes"] == "lamp 60"


def test_black_on_the_other_sides_ground_reads_nothing_or_a_few_volts():
    """Across the gap the display shows next to nothing, or floats; 12 V it does not show. AC comes through by tens of volts."""
    columns = [column("out", "v", "out", "0V", "on"), column("sec", "ac", "sec", "0V", "on")]
    elsewhere = Elsewhere(outlook_of(columns, [[12.0, 20.0]] * 3), METER)
    dc = [float(elsewhere.density(Reading(0, x), ACROSS)[0]) for x in (0.0, 2.0, 12.0)]
    assert dc[0] > dc[1] > 50 * dc[2]
    assert float(elsewhere.density(Reading(1, 30.0), ACROSS)[0]) > 0.05


# --- what is asked --------------------------------------------------------------------------------------------------------------


def test_three_questions_a_job_and_none_twice():
    """The same doubt is not put again, and after three the job goes on without."""
    outlook, asked = five(), set()
    post = posterior(outlook, [Reading(j, v) for j, v in enumerate([14.1e3, 30e6, 33e3, 2.2e3, 68e3])])
    weighed = weighed_of(outlook, post)
    assert doubt_of(weighed, asked, 5)["line"] == 2
    assert doubt_of(weighed, asked, 5) is None
    assert doubt_of(weighed, {"a", "b", "c"}, 5) is None


# --- real starting sheets -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def flyback():
    return sheet_of("flyback 12V 2A")


@pytest.mark.parametrize(
    ("kind", "kept", "rightly"),
    [
        ("prefix", 22, 22),
        ("leads swapped", 22, 14),
        ("pin beside", 21, 13),
        ("twin part", 15, 16),
        ("no contact", 19, 20),
        ("flat meter battery", 16, 12),
    ],
)
def test_one_slip_on_a_real_sheet_leaves_the_true_part_first_and_is_asked_about(flyback, kind, kept, rightly):
    """24 units each whose part is first before the slip. MEASURED, part still first without and with slips told apart, and asked about
    the right entry by the right name: prefix 21, 24, 24; leads swapped 23, 24, 17; pin beside 22, 23, 16; twin part 16, 17, 19; no
    contact 21, 21, 23; flat battery 12, 18, 14. Two or three units fewer are luck. The right entry by another name is no success here."""
    found = count(flyback, kind, 24)
    assert found.after >= max(kept, found.before - 1)
    assert found.rightly >= rightly
    assert found.loss < 0.5


def test_without_a_mistake_hardly_anything_is_asked_and_nothing_is_lost(flyback):
    """MEASURED: 0 of 60 clean units of a flyback and 2 of 80 of a linear supply were asked about, and none of these 20; log loss the
    same to 0.001."""
    found = count(flyback, "", 20)
    assert found.after == found.before == 20
    assert found.asked <= 1
    assert found.loss / found.cases <= 0.02
