"""How often it ticks, as a reading: `every 1.1s`.

Common practice: the period is the time in which the start current recharges the chip's supply, or its timer's; a watch in the hand is right to a fifth.
Checked against numbers worked out by hand: no density is taken from the code under test.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.diagnosis.cells import cells_of
from halfsplit.diagnosis.columns import make_column
from halfsplit.diagnosis.outlook import Outlook, Reading, Row
from halfsplit.diagnosis.posterior import Setting, posterior

ROWS = ("half a second", "a second", "stands", "chatters")
SHOWS = (0.5, 1.1, np.inf, np.nan)


def outlook(states: int = 1) -> Outlook:
    """Four explanations, each as likely, and the period in one state or in two."""
    columns = tuple(make_column("every", "out", "0V", state, where="out") for state in ("on", "on less load")[:states])
    value = np.repeat(np.repeat(np.array(SHOWS)[:, None, None], states, 1), 16, 2)
    rows = (Row("", "nothing wrong", 1e-3), *(Row(name, "open", 0.25) for name in ROWS))
    value = np.concatenate([np.full((1, states, 16), np.inf), value])
    return Outlook(rows, columns, value, np.zeros(value.shape[:2], bool))


def odds(*seconds: float) -> dict[str, float]:
    """Of the four, after so many readings, each in a state of its own."""
    made = outlook(len(seconds))
    readings = [Reading(j, x) for j, x in enumerate(seconds)]
    return dict(zip(ROWS, posterior(made, readings, setting=Setting(not_on_sheet=0.0, two_at_once=0.0)).row_odds[1:], strict=True))


def test_the_nearer_period_wins_and_none_is_out_of_the_world() -> None:
    slow = odds(1.1)
    assert slow["a second"] > 3.0 * slow["half a second"] > 0.0
    fast = odds(0.5)
    assert fast["half a second"] > 3.0 * fast["a second"] > 0.0


def test_a_watch_that_is_a_fifth_off_says_nothing_against() -> None:
    """1.1 s read as 0.9 or 1.3: within what the hand and the unknown current of the chip allow."""
    for read in (0.9, 1.3):
        got = odds(read)
        assert got["a second"] > 0.6 * odds(1.1)["a second"] and max(got, key=lambda name: got[name]) == "a second", got


def test_what_stands_explains_a_period_badly_but_a_slip_stays_possible() -> None:
    got = odds(1.1)
    assert 1e-5 < got["stands"] < 0.02 * got["a second"], got


def test_what_pulses_and_was_not_followed_says_nothing_either_way() -> None:
    """A relay that chatters has no period here: it keeps what a period somewhere within three decades would have."""
    got = odds(1.1)
    assert got["stands"] < got["chatters"] < got["a second"]


def test_the_same_chip_timed_in_two_states_is_one_witness_for_the_model() -> None:
    """Read twice, only the hand is averaged: what the drawing is off by is the same both times, so that both count as one fact."""
    made = outlook(2)
    assert len(set(cells_of(made, [Reading(0, 1.0), Reading(1, 1.0)]).fact)) == 1


@pytest.mark.parametrize("read", [0.1, 0.5, 1.1, 10.0])
def test_the_width_on_the_scale_is_that_of_hand_and_drawing(read: float) -> None:
    """By hand: 0.2/sqrt(3) and 0.1 s for the hand, 0.3 and 0.05 s for the drawing, over (1.1 + 0.05) ln 10."""
    made = outlook()
    cells = cells_of(made, [Reading(0, read)])
    by_hand = np.sqrt((0.2 / np.sqrt(3) * 1.1) ** 2 + 0.1**2 + (0.3 * 1.1) ** 2 + 0.05**2) / (1.15 * np.log(10))  # at the row's own 1.1 s
    assert cells.width[2, 0] == pytest.approx(by_hand, rel=1e-6)
