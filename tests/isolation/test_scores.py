"""The score bench's own arithmetic: odds to scores, bins, places that are not drawn."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from perf.isolation.plot import reliability_svg, wilson
from perf.isolation.report import all_claims, done, final_sure
from perf.isolation.scoring import (
    EDGES,
    FLOOR,
    Bin,
    bin_of,
    brier,
    claims_of,
    expected_calibration_error,
    log_score,
    reliability,
    score,
    with_the_rest,
    worth_keeping,
)

ANSWER = {
    "suspects": [{"part": "R1", "way": "open", "odds": 0.5}, {"part": "R1", "way": "up", "odds": 0.1}, {"part": "C201", "way": "short", "odds": 0.2}],
    "pairs": [{"parts": ["R1", "F1"], "ways": ["open", "open"], "odds": 0.1}],
    "nothing_wrong": 0.02,
    "not_on_sheet": 0.05,
}


def test_claims_sum_the_ways_of_a_part_and_the_pairs_it_is_in_under_the_boards_names() -> None:
    got = claims_of(ANSWER, {"C201": "rail-cap"})
    assert got == pytest.approx({"R1": 0.7, "rail-cap": 0.2, "F1": 0.1, "": 0.02, "?": 0.05})


def test_undrawn_places_count_as_not_on_the_sheet_once() -> None:
    got = claims_of({**ANSWER, "undrawn": [{"place": "vcc to 0V", "odds": 0.2}, {"place": "out", "odds": 0.1}]}, {})
    assert got["?"] == pytest.approx(0.3)
    assert got["~vcc to 0V"] == 0.2
    assert claims_of({**ANSWER, "not_on_sheet": 0.4, "undrawn": [{"place": "out", "odds": 0.1}]}, {})["?"] == 0.4


def test_odds_that_the_list_has_no_room_for_count_too() -> None:
    claims = {"R1": 0.5, "": 0.02, "?": 0.05}
    got = with_the_rest(claims, {"R1": 0.4, "Q201": 0.03, "": 0.9}, {"Q201": "driver"})
    assert got == {"R1": 0.5, "driver": 0.03, "": 0.02, "?": 0.05}
    assert worth_keeping({"R1": 0.5, "C1": 0.001, "C2": 0.00123456, "?": 0.0}, {"C2"}) == {"R1": 0.5, "C2": 0.001235, "?": 0.0}


def test_log_score_is_that_of_the_truth_with_a_floor() -> None:
    assert log_score({"R1": 0.5}, "R1") == pytest.approx(math.log(0.5))
    assert log_score({"R1": 1.0}, "C1") == pytest.approx(math.log(FLOOR))


def test_brier_counts_what_was_claimed_and_what_was_not() -> None:
    assert brier({"R1": 1.0, "": 0.0}, {"R1"}) == 0.0
    assert brier({"R1": 0.6, "C1": 0.4}, {"R1"}) == pytest.approx(0.16 + 0.16)
    assert brier({"R1": 1.0}, {"R1", "F1"}) == 1.0
    assert brier({"?": 0.5, "~out": 0.5}, {"?"}) == 0.25


@pytest.mark.parametrize(("odds", "index"), [(0.0499, None), (0.05, 0), (0.2, 0), (0.21, 1), (0.5, 2), (0.95, 4), (0.951, 5), (1.0, 5)])
def test_bins_keep_their_upper_edge(odds: float, index: int | None) -> None:
    assert bin_of(odds) == index


def test_reliability_counts_claims_and_what_held() -> None:
    bins = reliability([(0.9, True), (0.9, True), (0.85, False), (0.99, True), (0.01, False)])
    assert [b.count for b in bins] == [0, 0, 0, 0, 3, 1]
    assert len(bins) == len(EDGES)
    assert bins[4].held == pytest.approx(2 / 3)
    assert bins[4].mean == pytest.approx((0.9 + 0.9 + 0.85) / 3)
    assert expected_calibration_error(bins) == pytest.approx((3 * abs(2.65 / 3 - 2 / 3) + 0.01) / 4)


def judged(ended: str, named: list[str], claims: dict[str, float], root: str = "R1", **more: object) -> object:
    return score(ended, named, claims, root=root, true_names=frozenset({root}), group=frozenset({root}), **more)  # type: ignore[arg-type]


def test_no_answer_is_a_miss_even_where_the_odds_are_right() -> None:
    got = judged("no reading helps", [], {"R1": 0.94, "": 0.01, "?": 0.05})
    assert got.no_answer and got.top_odds and not got.first and not got.three and not got.group  # type: ignore[attr-defined]


def test_the_root_of_two_counts_first_and_either_as_any() -> None:
    got = score("convicted", ["F1"], {"F1": 0.97, "BR1": 0.5, "": 0.0, "?": 0.01}, root="BR1", true_names=frozenset({"BR1", "F1"}),
                group=frozenset({"BR1"}))
    assert not got.first and got.any_first and got.three and not got.sure_wrong


def test_a_sure_claim_of_what_is_sound_is_wrong_and_a_gap_is_seen() -> None:
    assert judged("convicted", ["C1"], {"C1": 0.95, "": 0.0, "?": 0.01}).sure_wrong  # type: ignore[attr-defined]
    assert judged("not on the sheet", [], {"R1": 0.3, "": 0.0, "?": 0.4}).gap  # type: ignore[attr-defined]
    assert not judged("convicted", ["R1"], {"R1": 0.95, "": 0.0, "?": 0.01}).gap  # type: ignore[attr-defined]


def test_naming_a_net_of_a_part_that_is_not_drawn_finds_it() -> None:
    claims = {"R1": 0.5, "C2": 0.2, "C3": 0.15, "C4": 0.1, "": 0.0, "?": 0.05}
    hidden = {"root": "?", "places": frozenset({"vcc", "0V"})}
    assert not judged("convicted", ["R1"], claims, **hidden).three  # type: ignore[attr-defined, arg-type]
    assert judged("convicted", ["R1"], {**claims, "~vcc to 0V": 0.3, "?": 0.3}, **hidden).three  # type: ignore[attr-defined, arg-type]
    assert judged("not on the sheet", [], claims, **hidden).first  # type: ignore[attr-defined, arg-type]


def test_claims_of_a_run_leave_out_places_and_broken_boards() -> None:
    lines = [
        {"failed": "", "error": "", "true": ["R1"], "claims": [[0, {"R1": 0.2, "": 0.1}], [4, {"R1": 0.97, "~out": 0.3}]]},
        {"failed": "no board", "error": "", "true": [], "claims": [[0, {"R1": 0.99}]]},
    ]
    assert len(done(lines)) == 1
    assert all_claims(lines) == [(0.2, True), (0.1, False), (0.97, True)]
    assert final_sure(lines) == [True]


def test_wilson_interval_holds_the_share_and_narrows() -> None:
    """n = 10, all held, z = 1.96: lower end 0.722 (Wilson 1927, as in textbooks)."""
    low, high = wilson(1.0, 10, 1.96)
    assert low == pytest.approx(0.7225, abs=5e-4) and high == 1.0
    assert wilson(0.5, 400)[1] - wilson(0.5, 400)[0] < wilson(0.5, 40)[1] - wilson(0.5, 40)[0]


def test_the_plot_is_well_formed_and_has_a_dot_for_each_bin_with_claims() -> None:
    bins = [Bin(0.05, 0.2, 40, 0.1, 0.12), Bin(0.2, 0.4, 0, math.nan, math.nan), Bin(0.95, 1.0, 9, 0.98, 1.0)]
    root = ElementTree.fromstring(reliability_svg(bins, "a < b"))
    dots = [e for e in root.iter() if e.tag.endswith("circle")]
    assert len(dots) == 2
    assert float(dots[0].attrib["cx"]) < float(dots[1].attrib["cx"])
    assert float(dots[0].attrib["cy"]) > float(dots[1].attrib["cy"])
