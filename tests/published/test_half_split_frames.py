"""Teaching frames on logical troubleshooting, answered by the same posterior and planner that serve the bench.

SOURCE   US Army Intelligence Center, subcourse IT0338 edition A, May 1996, "Introduction to Logical Troubleshooting";
         read, second-hand, on a public page; the answers are those of its frames 15 and 16. Own words throughout.
TAKEN    each rule as a small outlook of blocks: a row is one block without output, a column is the test point behind a block,
         which shows 10 V while everything before it works and 0 V else. Readings are exact (no slips, one fault).
BOUND    the planner has to choose the point that the frame names; gains are held to the bits that counting blocks gives.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pytest

from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import LOGIC, Posterior, posterior

GOOD, NONE = 10.0, 0.0


def outlook_of(shows: Mapping[str, Sequence[float]], points: Sequence[str], odds: Mapping[str, float] | None = None,
               minutes: Mapping[str, float] | None = None) -> Outlook:
    """shows: bad block -> what each test point shows."""
    odds, minutes = odds or {}, minutes or {}
    columns = tuple(Column(p, "v", p, "0V", p, "on", minutes=minutes.get(p, 1.0), span=20.0) for p in points)
    rows = tuple(Row(block, "no output", odds.get(block, 1.0)) for block in shows)
    value = np.array(list(shows.values()), dtype=np.float64)[:, :, None].repeat(4, axis=2)
    return Outlook(rows, columns, value, np.zeros(value.shape[:2], dtype=bool))


def flow(feeds: Mapping[str, Sequence[str]]) -> dict[str, list[float]]:
    """feeds: block -> the blocks that it needs. A block works when it is good and all that it needs work."""

    def works(block: str, bad: str) -> bool:
        return block != bad and all(works(f, bad) for f in feeds[block])

    return {bad: [GOOD if works(block, bad) else NONE for block in feeds] for bad in feeds}


def best(outlook: Outlook, readings: Sequence[Reading] = ()) -> list[str]:
    """Test points worth most per minute, best first; what ties with the best to a thousandth comes with it."""
    found = next_readings(outlook, posterior(outlook, readings, setting=LOGIC), most=99)
    return [outlook.columns[p.column].key for p in found if p.rate > found[0].rate - 1e-3]


def gains(outlook: Outlook, readings: Sequence[Reading] = ()) -> dict[str, float]:
    found = next_readings(outlook, posterior(outlook, readings, setting=LOGIC), most=99)
    return {outlook.columns[p.column].key: p.gain for p in found}


def at(outlook: Outlook, point: str, value: float) -> Reading:
    return Reading([c.key for c in outlook.columns].index(point), value)


def left(post: Posterior) -> set[str]:
    """Blocks still inside the brackets."""
    return {part for part, odds in post.part_odds.items() if odds > 1e-6}


def bits(share: float) -> float:
    return -share * math.log2(share) - (1.0 - share) * math.log2(1.0 - share)


CHAIN = [f"B{i}" for i in range(1, 9)]


def chain(odds: Mapping[str, float] | None = None, minutes: Mapping[str, float] | None = None) -> Outlook:
    """Eight blocks in line; the output, known to be missing, is behind the last."""
    return outlook_of(flow({b: CHAIN[i - 1: i] if i else [] for i, b in enumerate(CHAIN)}), CHAIN, odds, minutes)


# ---- the midpoint of the brackets


def test_a_line_of_equal_blocks_is_checked_at_the_midpoint_of_the_brackets() -> None:
    """Frame (IT0338 A, read): each further check lies midway between the brackets. Eight equal blocks: behind B4, one bit."""
    outlook = chain()
    assert best(outlook) == ["B4"]
    assert gains(outlook)["B4"] == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("bad", CHAIN)
def test_each_further_check_halves_what_is_left(bad: str) -> None:
    """Frames 15-16 (IT0338 A, read): brackets move to the midpoint each time; whichever of eight blocks it is, three checks."""
    outlook = chain()
    truth = {c.key: outlook.value[CHAIN.index(bad), i, 0] for i, c in enumerate(outlook.columns)}
    readings: list[Reading] = []
    for size in (8, 4, 2):
        inside = left(posterior(outlook, readings, setting=LOGIC))
        assert len(inside) == size
        middle = sorted(inside)[size // 2 - 1]
        assert best(outlook, readings) == [middle]
        readings.append(at(outlook, middle, truth[middle]))
    assert left(posterior(outlook, readings, setting=LOGIC)) == {bad}


def test_a_check_should_take_out_as_much_of_the_system_as_it_can() -> None:
    """Frame (IT0338 A, read): a check is worth what it takes out. By counting: behind block k of 8 it tells H(k/8) bits, nothing
    behind the last, where the missing output is known already."""
    for point, gain in gains(chain()).items():
        share = int(point[1:]) / 8
        assert gain == pytest.approx(bits(share) if share < 1 else 0.0, abs=2e-3), point


def test_a_bad_reading_moves_the_far_bracket_and_a_good_one_the_near_bracket() -> None:
    """Frame (IT0338 A, read): good output: the fault lies after that point; bad output: at it or before it."""
    outlook = chain()
    assert left(posterior(outlook, [at(outlook, "B4", GOOD)], setting=LOGIC)) == set(CHAIN[4:])
    assert left(posterior(outlook, [at(outlook, "B4", NONE)], setting=LOGIC)) == set(CHAIN[:4])


# ---- where the rule is only a special case (computed here; the trade weighs by odds and minutes: common practice)


def test_unequal_odds_move_the_probe_from_the_middle_of_the_line_to_the_middle_of_the_odds() -> None:
    """Computed: B1 fails as often as the other seven together: behind B1 the odds are halved, not behind B4."""
    outlook = chain(odds={"B1": 7.0})
    assert best(outlook) == ["B1"]
    assert gains(outlook)["B1"] == pytest.approx(1.0, abs=1e-3)
    assert gains(outlook)["B4"] == pytest.approx(bits(10 / 14), abs=2e-3)


def test_unequal_minutes_move_the_probe_to_the_cheaper_neighbour() -> None:
    """Computed: the midpoint takes four minutes, its neighbours one: H(3/8) = 0.954 bit a minute beats 0.25."""
    outlook = chain(minutes={"B4": 4.0})
    assert set(best(outlook)) == {"B3", "B5"}
    assert best(chain(minutes={"B4": 1.02})) == ["B4"]  # a little dearer is still the better buy
    assert 1.0 / 1.02 > bits(3 / 8)


# ---- branches


CONVERGENT = {"A1": [], "A2": ["A1"], "C1": [], "C2": ["C1"], "MIX": ["A2", "C2"], "OUT": ["MIX"]}


def test_convergent_paths_are_checked_at_each_input() -> None:
    """Frame (IT0338 A, read): where paths meet, each input is checked. The output behind the junction is missing; the two inputs
    are the best checks, and a good one leaves the other input's path and what follows the junction."""
    outlook = outlook_of(flow(CONVERGENT), list(CONVERGENT))
    inputs = {"A2", "C2"}
    assert inputs <= set(best(outlook))
    assert not {"A1", "C1", "OUT"} & set(best(outlook))
    after_one = posterior(outlook, [at(outlook, "A2", GOOD)], setting=LOGIC)
    assert left(after_one) == {"C1", "C2", "MIX", "OUT"}
    assert "C2" in best(outlook, [at(outlook, "A2", GOOD)])  # the second input still has to be checked
    both = [at(outlook, "A2", GOOD), at(outlook, "C2", GOOD)]
    assert left(posterior(outlook, both, setting=LOGIC)) == {"MIX", "OUT"}
    bad = posterior(outlook, [at(outlook, "A2", GOOD), at(outlook, "C2", NONE)], setting=LOGIC)
    assert left(bad) == {"C1", "C2"}


DIVERGENT = {"S1": [], "S2": ["S1"], "SPLIT": ["S2"], "X": ["SPLIT"], "Y": ["SPLIT"], "Z": ["SPLIT"]}


def test_a_divergent_circuit_is_checked_at_any_output() -> None:
    """Frame (IT0338 A, read): where one path feeds several, any output will do. X has no output; a good Y (or Z) clears all that
    they share and leaves X alone, a bad one clears X; the two are worth the same."""
    outlook = outlook_of(flow(DIVERGENT), list(DIVERGENT))
    dead_x = [at(outlook, "X", NONE)]
    assert left(posterior(outlook, dead_x, setting=LOGIC)) == {"S1", "S2", "SPLIT", "X"}
    worth = gains(outlook, dead_x)
    assert worth["Y"] == pytest.approx(worth["Z"], abs=1e-9)
    assert worth["Y"] == pytest.approx(bits(1 / 4), abs=2e-3)
    for other in ("Y", "Z"):
        assert left(posterior(outlook, [*dead_x, at(outlook, other, GOOD)], setting=LOGIC)) == {"X"}
        assert left(posterior(outlook, [*dead_x, at(outlook, other, NONE)], setting=LOGIC)) == {"S1", "S2", "SPLIT"}
    # One good output says as much as all of them: after it the other has nothing left to tell.
    assert gains(outlook, [*dead_x, at(outlook, "Y", NONE)])["Z"] == pytest.approx(0.0, abs=1e-3)


SWITCHED = {"P1": ("one", "two"), "P2": ("one", "two"), "FIRST": ("one",), "FIRST-B": ("one",), "SECOND": ("two",), "SECOND-B": ("two",)}


def test_a_switching_circuit_is_checked_by_seeing_which_positions_are_affected() -> None:
    """Frame (IT0338 A, read): work the switch and see which circuits are affected. Position one gives nothing: position two, a
    turn of the switch, tells the common part from what only position one uses, and is the best check of all."""
    positions = ["one", "two"]
    inner = {"P1 out": ("P1",), "P2 out": ("P1", "P2"), "FIRST out": ("P1", "P2", "FIRST")}
    shows = {bad: [NONE if p in used else GOOD for p in positions] + [NONE if bad in needs else GOOD for needs in inner.values()]
             for bad, used in SWITCHED.items()}
    outlook = outlook_of(shows, [*positions, *inner], minutes=dict.fromkeys(inner, 2.0))
    dead_one = [at(outlook, "one", NONE)]
    assert left(posterior(outlook, dead_one, setting=LOGIC)) == {"P1", "P2", "FIRST", "FIRST-B"}
    assert best(outlook, dead_one)[0] == "two"
    assert left(posterior(outlook, [*dead_one, at(outlook, "two", NONE)], setting=LOGIC)) == {"P1", "P2"}
    assert left(posterior(outlook, [*dead_one, at(outlook, "two", GOOD)], setting=LOGIC)) == {"FIRST", "FIRST-B"}


def test_a_feedback_loop_is_checked_by_changing_the_feedback_and_reading_the_output() -> None:
    """Frame (IT0338 A, read): inside a loop every point is wrong, so the feedback is changed and the output watched. Closed, all
    points of forward path and return path show the same under either fault and are worth nothing; with the return path opened
    and a set level put in, the output stands apart."""
    closed = {"AMP": NONE, "DRIVE": NONE, "SENSE": NONE}  # whichever block is bad, the loop stops as a whole
    points = ["AMP closed", "DRIVE closed", "SENSE closed", "output, feedback set"]
    opened = {"AMP": NONE, "DRIVE": NONE, "SENSE": GOOD}  # with the level put in by hand only the forward path counts
    shows = {bad: [closed["AMP"], closed["DRIVE"], closed["SENSE"], opened[bad]] for bad in closed}
    outlook = outlook_of(shows, points)
    worth = gains(outlook)
    assert best(outlook) == ["output, feedback set"]
    assert worth["output, feedback set"] == pytest.approx(bits(1 / 3), abs=2e-3)
    for point in points[:3]:
        assert worth[point] == pytest.approx(0.0, abs=1e-3)
    assert left(posterior(outlook, [at(outlook, points[3], GOOD)], setting=LOGIC)) == {"SENSE"}
    assert left(posterior(outlook, [at(outlook, points[3], NONE)], setting=LOGIC)) == {"AMP", "DRIVE"}
