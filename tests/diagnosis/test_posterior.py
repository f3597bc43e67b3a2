"""The posterior: odds that sum to one, what is not on the sheet, pairs, mistakes, and the pitfalls that were met before."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from halfsplit.diagnosis.mistakes import Mistake, standard_mistakes
from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.posterior import DEFAULT, LOGIC, posterior
from halfsplit.diagnosis.replaced import after_fitting
from halfsplit.diagnosis.scale import noise, scale_of, span_on_scale
from halfsplit.errors import InputError, ModelLimit
from halfsplit.jobs.lists import pair_list


def volts(key, **more):
    return Column(key, **({"function": "v", "red": key, "black": "0", "where": key, "state": "on", "span": 30.0} | more))


def outlook_of(rows, columns, cells, draws=16, spread=0.02, seed=1):
    """cells (rows, columns) nominal; each unit's tolerance is common to its columns."""
    rng = np.random.default_rng(seed)
    value = np.asarray(cells, dtype=np.float64)[:, :, None] * np.exp(spread * rng.standard_normal((len(rows), 1, draws)))
    return Outlook(tuple(rows), tuple(columns), value, np.zeros(value.shape[:2], dtype=bool))


def rail(n=6, dead=4):
    """n places; row k of `dead` kills all places after it."""
    rows = [Row("", "nothing wrong", 0.05)] + [Row(f"F{k}", "open", 1.0) for k in range(dead)]
    cells = [[12.0 - i for i in range(n)]] + [[12.0 - i if i <= k else 0.0 for i in range(n)] for k in range(dead)]
    return outlook_of(rows, [volts(f"n{i}", live=True) for i in range(n)], cells)


def test_odds_sum_to_one_whatever_was_read():
    """Rows, not on the sheet and two at once share one whole, to 1e-12, however absurd the readings."""
    outlook = rail()
    for values in ([], [12.0], [1e4, -50.0, 0.0, 7e3], [np.inf, 3.0]):
        post = posterior(outlook, [Reading(i, v) for i, v in enumerate(values)])
        total = post.row_odds.sum() + post.not_on_sheet + post.two_at_once
        assert total == pytest.approx(1.0, abs=1e-12)


def test_before_any_reading_the_odds_are_the_priors():
    """Rows keep their proportions, beside the settings' own shares."""
    outlook = rail()
    post = posterior(outlook, [])
    prior = np.array([r.prior for r in outlook.rows])
    np.testing.assert_allclose(post.row_odds, prior / prior.sum() * 0.9, atol=1e-12)
    assert (post.not_on_sheet, post.two_at_once) == (pytest.approx(0.05), pytest.approx(0.05))


def test_looks_multiply_the_odds():
    """A look of log odds ln 9 for one row makes it nine times as likely against the others."""
    outlook = rail()
    looks = np.array([0.0, 0.0, math.log(9.0), 0.0, 0.0])
    plain, seen = posterior(outlook, []), posterior(outlook, [], looks=looks)
    ratio = (seen.row_odds[2] / seen.row_odds[1]) / (plain.row_odds[2] / plain.row_odds[1])
    assert ratio == pytest.approx(9.0, rel=1e-9)


def test_a_dead_net_with_a_few_millivolts_convicts_nobody():
    """Pitfall: 19 mV of residue predicted, 135 mV read. Floor and tail keep the row; its rival is not at 1.00."""
    rows = [Row("", "nothing wrong", 0.02), Row("A", "open", 1.0), Row("B", "open", 1.0)]
    cells = [[12.0, 5.0], [0.019, 0.0], [0.5, 0.0]]
    post = posterior(outlook_of(rows, [volts("n"), volts("m")], cells), [Reading(0, 0.135), Reading(1, 0.0)])
    assert post.part_odds["A"] > 0.1
    assert max(post.part_odds.values()) < 0.95


def test_a_cell_that_cannot_be_said_neither_agrees_nor_drops_the_row():
    """Pitfall: NaN has density 1/span, far under a row that predicts the reading, far over one that contradicts it."""
    rows = [Row("A", "w", 1.0), Row("B", "w", 1.0), Row("C", "w", 1.0)]
    outlook = outlook_of(rows, [volts("n")], [[5.0], [math.nan], [11.0]])
    post = posterior(outlook, [Reading(0, 5.0)], setting=replace(DEFAULT, not_on_sheet=0.0, two_at_once=0.0))
    a, b, c = post.row_odds
    assert a > 5 * b > 0
    assert b > 5 * c
    column = outlook.columns[0]
    expected = 1 / span_on_scale(column)
    assert post.g[1, 0] == pytest.approx((1 - 0.012) * expected * 0.99, rel=0.02)  # steady display, few slips


def test_a_tiny_span_does_not_make_slips_likely():
    """Pitfall: spans have a floor of 1 V, 4 decades, 2 V in the diode test."""
    for function, least in (("v", 2 * math.log1p(20.0)), ("r", 4.0), ("d", 2.0)):
        assert span_on_scale(volts("n", function=function, span=1e-3)) == pytest.approx(least)


def test_a_struck_entry_leaves_no_trace():
    """Pitfall: odds are rebuilt from the readings that stand, so a struck one is as if never taken."""
    outlook = rail()
    kept = [Reading(1, 11.1), Reading(3, 0.01)]
    once = posterior(outlook, kept)
    posterior(outlook, [Reading(0, 3.0), *kept])
    again = posterior(outlook, kept)
    np.testing.assert_array_equal(once.row_odds, again.row_odds)


def test_noise_is_the_meters_and_the_drawings():
    """5 V: meter 0.5 %/sqrt3 and 5 mV, drawing 1.2 % and 30 mV; 100 ohm: drawing 2 % and 0.1 ohm; diode test 20 mV."""
    n = noise(volts("n"), 5.0, False, DEFAULT.meter)
    slope = float(scale_of(volts("n")).slope(5.0))
    assert float(n.total) == pytest.approx(slope * math.sqrt((0.025 / math.sqrt(3)) ** 2 + 0.005**2 + 0.06**2 + 0.03**2))
    ohms = noise(volts("n", function="r"), 100.0, False, {"r": (0.0, 0.0)})
    assert float(ohms.total) == pytest.approx(math.hypot(2.0, 0.1) / (100.3 * math.log(10)))
    assert float(noise(volts("n", function="d"), 0.6, False, {"d": (0.0, 0.0)}).total) == pytest.approx(0.020)


def test_open_against_a_number_is_a_slip_and_open_near_the_limit_is_not():
    """OL is an event: its chance is the share of the row above the range, and no contact otherwise."""
    rows = [Row("A", "w", 1.0), Row("B", "w", 1.0), Row("C", "w", 1.0)]
    column = volts("n", function="r", limit=2e7, span=2e7)
    outlook = outlook_of(rows, [column], [[np.inf], [2e7], [100.0]], spread=1e-6)
    post = posterior(outlook, [Reading(0, np.inf)])
    assert post.g[0, 0] == pytest.approx(1.0, abs=0.01)
    assert post.g[1, 0] == pytest.approx(0.5, abs=0.02)
    assert post.g[2, 0] == pytest.approx(0.008, abs=0.002)


def test_pulsing_display_speaks_for_rows_that_pulse():
    """A display that would not stand still: 0.6 where predicted, 0.01 where not."""
    rows = [Row("A", "hiccups", 1.0), Row("B", "sags", 1.0)]
    outlook = outlook_of(rows, [volts("n")], [[4.0], [4.0]])
    outlook = replace(outlook, pulsing=np.array([[True], [False]]))
    post = posterior(outlook, [Reading(0, 4.0, pulsing=True)])
    assert post.row_odds[0] / post.row_odds[1] == pytest.approx(60.0, rel=0.05)


def test_between_running_and_waiting_a_node_may_show_anything():
    """A display that moves, at three times and at a third of what a pulsing row has in the middle, does not rule it out; MAX would."""
    rows = [Row("", "nothing wrong", 0.05), Row("A", "open", 1.0), Row("B", "open", 1.0)]
    outlook = outlook_of(rows, [volts("n0"), volts("m0", function="max")], [[24.0, 24.0], [12.0, 24.0], [3.0, 6.0]])
    outlook.pulsing[1:] = True
    far = posterior(outlook, [Reading(0, 4.5, pulsing=True)])
    assert far.part_odds["A"] > 0.15 and far.part_odds["B"] > 0.15
    assert posterior(outlook, [Reading(0, 4.5, pulsing=True), Reading(1, 25.0)]).part_odds["A"] > 0.8


def test_a_shaky_reading_weighs_less():
    """The same contradiction, taken with an unsure hand, moves the odds less."""
    outlook = rail()
    firm = posterior(outlook, [Reading(2, 0.0), Reading(0, 0.0)])
    shaky = posterior(outlook, [Reading(2, 0.0), Reading(0, 0.0, shaky=True)])
    assert shaky.not_on_sheet + shaky.two_at_once < firm.not_on_sheet + firm.two_at_once


def test_readings_no_row_can_make_bring_up_what_is_not_on_the_sheet():
    """Two contradictions among agreeing places bring it up; none never does."""
    outlook = rail(n=8, dead=5)
    odd = [Reading(0, 12.0), Reading(1, 11.0), Reading(2, 10.0), Reading(3, 4.1), Reading(4, 3.6), Reading(5, 3.1)]
    plain = [Reading(i, 12.0 - i if i <= 3 else 0.0) for i in range(7)]
    unsaid = replace(DEFAULT, two_at_once=0.0)
    assert posterior(outlook, odd, setting=unsaid).not_on_sheet > 0.7
    assert posterior(outlook, plain, setting=unsaid).not_on_sheet < 0.02


def test_ten_dead_rails_are_not_ten_contradictions():
    """A chain killed by one drawn fuse stays with that fuse."""
    outlook = rail(n=12, dead=3)
    post = posterior(outlook, [Reading(i, 12.0 - i if i <= 1 else 0.005) for i in range(12)])
    assert post.part_odds["F1"] > 0.95


def test_two_faults_that_no_single_row_explains_come_up_as_a_pair():
    """One branch open and the other short: each place shows one of the two rows."""
    rows = [Row("", "nothing wrong", 0.05)]
    rows += [Row(p, w, 1.0) for p in "ABCD" for w in ("open", "short")]
    cells = [[5.0] * 8] + [[5.0] * 8 for _ in range(8)]
    for k in range(4):
        for w, volt in ((0, 9.0), (1, 0.2)):
            cells[1 + 2 * k + w][2 * k : 2 * k + 2] = [volt, volt * 0.8]
    outlook = outlook_of(rows, [volts(f"n{i}") for i in range(8)], cells)
    read = [9.0, 7.2, 5.0, 5.0, 0.2, 0.16, 5.0, 5.0]
    post = posterior(outlook, [Reading(i, v) for i, v in enumerate(read)])
    best = post.pairs[0]
    assert {(outlook.rows[r].part, outlook.rows[r].way) for r in (best.a, best.b)} == {("A", "open"), ("C", "short")}
    assert post.two_at_once > 0.5
    assert post.involved["A"] > 0.5
    assert sum(post.in_pair) == pytest.approx(2 * post.two_at_once)
    shown = pair_list(post)[0]
    assert set(zip(shown["parts"], shown["ways"], strict=True)) == {("A", "open"), ("C", "short")}
    single = posterior(outlook, [Reading(i, v) for i, v in enumerate([9.0, 7.2] + [5.0] * 6)])
    assert single.two_at_once < 0.05
    assert pair_list(single) == []
    assert single.part_odds["A"] > 0.95


def test_after_a_part_was_fitted_the_old_readings_speak_of_the_old_one():
    """Convicted, fitted, and read as it should be: nothing wrong. Read as before: not that part again, beyond doubt."""
    outlook = rail()
    old = posterior(outlook, [Reading(i, v) for i, v in enumerate([12.0, 11.0, 0.0, 0.0])])
    assert old.part_odds["F1"] > 0.9
    now = after_fitting(outlook, old, "F1")
    assert posterior(now, []).nothing_wrong > 0.8
    well = posterior(now, [Reading(i, 12.0 - i) for i in (2, 3)])
    assert well.nothing_wrong > 0.95
    again = posterior(now, [Reading(2, 0.0)])
    assert again.nothing_wrong < 0.1 and again.part_odds["F1"] < 0.95
    with pytest.raises(InputError, match="healthy"):
        after_fitting(replace(outlook, rows=tuple(replace(r, part=r.part or "F9") for r in outlook.rows)), old, "F1")


def test_mains_off_is_doubted_and_the_part_found_all_the_same():
    """Cold readings say R1 open; then every live place reads nothing, which no fault does. Which entries: all live ones."""
    rows = [Row("", "nothing wrong", 0.05), Row("R1", "open", 1.0), Row("R2", "open", 1.0), Row("R3", "open", 1.0)]
    live = [volts(f"n{i}", live=True) for i in range(4)]
    cold = [volts(f"r{i}", function="r", span=1e7, state="dead") for i in range(3)]
    base = [320.0, 15.0, 12.0, 5.0, 100.0, 200.0, 300.0]
    cells = [base] + [[*base[:k], base[k] * 0.8, *base[k + 1 : 3 + k], base[3 + k] * 0.9, *base[4 + k :]] for k in (1, 2, 3)]
    for k in (1, 2, 3):
        cells[k] = [*cells[k][:4], *base[4:]]
        cells[k][3 + k] = 1e5
    outlook = outlook_of(rows, [*live, *cold], cells)
    readings = [Reading(4, 1e5), Reading(5, 200.0), *(Reading(i, 0.01) for i in range(4))]
    post = posterior(outlook, readings)
    assert post.doubts[0].name == "mains off"
    assert post.doubts[0].odds > 0.5
    assert post.doubts[0].readings == (2, 3, 4, 5)
    assert next(iter(post.part_odds)) == "R1"
    bare = posterior(outlook, readings, setting=replace(DEFAULT, mistakes=0.0))
    assert bare.part_odds["R1"] < post.part_odds["R1"]


def test_ac_for_dc_is_doubted():
    """DC wanted, the AC value of the same place shown: the doubt names that entry, and the verdict stays with the fault."""
    dc, ac = [volts(f"n{i}") for i in range(4)], [volts(f"n{i}", function="ac") for i in range(4)]
    rows = [Row("", "nothing wrong", 0.05), Row("C1", "dried", 1.0), Row("C2", "dried", 1.0)]
    cells = [[24.0, 12.0, 5.0, 3.3, 0.10, 0.05, 0.02, 0.02], [19.0, 10.5, 5.0, 3.3, 5.5, 2.4, 0.30, 0.2],
             [24.0, 8.0, 3.9, 2.6, 0.10, 4.1, 1.1, 0.7]]
    outlook = outlook_of(rows, [*dc, *ac], cells)
    readings = [Reading(0, 5.5), Reading(1, 2.4), Reading(2, 5.0), Reading(3, 3.3), Reading(5, 2.4)]
    post = posterior(outlook, readings)
    assert post.doubts[0].name == "wrong kind of volts"
    assert post.doubts[0].readings == (0, 1)
    assert post.part_odds["C1"] > 0.8


def test_readings_that_agree_raise_no_doubt():
    """No mistake is suspected behind readings that a drawn fault explains."""
    outlook = rail()
    post = posterior(outlook, [Reading(0, 12.0), Reading(1, 11.0), Reading(2, 0.0), Reading(5, 0.0)])
    assert post.doubts == () or post.doubts[0].odds < 0.1
    assert post.part_odds["F1"] > 0.9


def test_exact_readings_that_contradict_every_row_are_a_limit_and_not_a_guess():
    """With slips off, nothing may be left over; the text says what to do."""
    column = Column("n", "count", "n", "", "n", "any", span=2.0)
    outlook = Outlook((Row("A", "w", 1.0),), (column,), np.ones((1, 1, 1)), np.zeros((1, 1), dtype=bool))
    with pytest.raises(ModelLimit, match="no row explains"):
        posterior(outlook, [Reading(0, 5.0)], setting=LOGIC)


@pytest.mark.parametrize(
    ("readings", "looks", "text"),
    [([Reading(99, 1.0)], None, "column 99"), ([Reading(0, math.nan)], None, "not a number"), ([], np.zeros(2), "looks have")],
)
def test_wrong_input_is_named(readings, looks, text):
    """What does not fit is said with its value and the remedy."""
    with pytest.raises(InputError, match=text):
        posterior(rail(), readings, looks=looks)


def test_black_lead_on_the_other_ground_is_another_column_of_the_same_outlook():
    """The lead was left on the hot ground for the first two cold-side readings: they are weighed where they were taken."""
    rows = [Row("", "nothing wrong", 0.05), Row("U1", "no output", 1.0), Row("Q1", "open", 1.0)]
    right = [volts(f"n{i}", live=True) for i in range(3)]
    wrong = [volts(f"n{i}", black="hot-", live=True) for i in range(3)]
    cells = [[12.0, 5.0, 3.3, 60.0, 58.0, 57.0], [12.0, 0.0, 0.0, 60.0, 52.0, 52.0], [0.0, 0.0, 0.0, 47.0, 47.0, 47.0]]
    outlook = outlook_of(rows, [*right, *wrong], cells)
    lead = Mistake("black lead on the hot ground", "which ground is the black lead on?", {0: 3, 1: 4, 2: 5})
    readings = [Reading(0, 60.0), Reading(1, 52.0), Reading(2, 0.0)]
    post = posterior(outlook, readings, mistakes=(*standard_mistakes(outlook), lead))
    assert post.doubts[0].name == lead.name
    assert post.doubts[0].readings == (0, 1)
    assert next(iter(post.part_odds)) == "U1"
