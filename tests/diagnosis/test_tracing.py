"""What a doubted value would tell, and what the readings make of it: from draws, on tables made here.

SOURCE  two resistors in a divider, read at the middle: arithmetic. Standard values: IEC 60063.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfsplit.diagnosis.build import Drawn
from halfsplit.diagnosis.columns import make_column
from halfsplit.diagnosis.outlook import Outlook, Reading, Row
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.tracing import connection_gain, value_gain, value_guess

DRAWS, TIMES = 16, 5
LOW = 10e3  # ohm below the middle, known
VOLTS = 12.0


def unit(seed=1, width=0.5):
    """A divider from 12 V through a doubted R1 over a known R2. Rows: healthy, R1 drifted up 1.6 times, R2 up 1.6 times, U1 dead
    (nothing at the middle moves). Columns: volts of the middle, volts of the supply."""
    rng = np.random.default_rng(seed)
    lots = [np.exp(width * (2 * (rng.permutation(DRAWS) + rng.random(DRAWS)) / DRAWS - 1)) for _ in range(TIMES)]
    top = LOW * np.concatenate(lots)
    low = LOW * np.exp(0.02 * (2 * rng.random(top.size) - 1))
    rows = (Row("", "nothing wrong", 0.4), Row("R1", "up", 0.2), Row("R2", "up", 0.2), Row("U1", "dead", 0.2))
    columns = (make_column("v", "mid", "0V", "on", where="mid"), make_column("v", "in", "0V", "on", where="in"))
    own = np.arange(top.size) % DRAWS
    middle = [VOLTS * low / (low + top)]
    middle += [VOLTS * low[own] / (low[own] + 1.6 * top[own]), VOLTS * 1.6 * low[own] / (1.6 * low[own] + top[own]), middle[0]]
    value = np.stack([np.stack([m, np.full(top.size, VOLTS)]) for m in middle])
    drawn = Drawn((), {"R1": {"ohms": top}, "R2": {"ohms": low}, "U1": {"gain": np.full(top.size, 1.0)}}, np.zeros((4, DRAWS)))
    return Outlook(rows, columns, value, np.zeros((4, 2), bool)), drawn


def test_a_value_that_decides_between_parts_is_worth_bits_and_others_are_not():
    """4.6 V at the middle: R1 may be 16k from the start, or 10k and drifted. Its marking decides it."""
    outlook, drawn = unit()
    post = posterior(outlook, [Reading(0, 4.6)])
    assert value_gain(post, drawn, "R1", "ohms") > 0.1
    assert value_gain(post, drawn, "R2", "ohms") == 0.0
    assert value_gain(post, drawn, "U1", "gain") == 0.0


def test_a_value_that_has_nothing_to_do_with_it_is_worth_nothing_on_ten_seeds():
    """A split by chance seems to tell a little; it has to be held against other splits by chance."""
    gains = []
    for seed in range(10):
        outlook, drawn = unit(seed)
        stranger = np.exp(0.5 * (2 * np.random.default_rng(100 + seed).random(DRAWS * TIMES) - 1))
        other = replace(drawn, healthy={**drawn.healthy, "R9": {"ohms": stranger}})
        gains.append(value_gain(posterior(outlook, [Reading(0, 4.6)]), other, "R9", "ohms"))
    assert np.mean(gains) < 0.02
    assert sum(g > 0.05 for g in gains) <= 1


def test_nothing_read_is_nothing_to_be_told():
    outlook, drawn = unit()
    assert value_gain(posterior(outlook, []), drawn, "R1", "ohms") == 0.0


@pytest.mark.parametrize(("ohms", "volts"), [(6800.0, 12 / 1.68), (10e3, 6.0), (15e3, 4.8)])
def test_an_unreadable_value_is_named_by_the_readings(ohms, volts):
    """Healthy divider, R1 of these ohms: the nearest standard value or its neighbour, and the span holds it."""
    outlook, drawn = unit()
    healthy = replace(outlook, rows=tuple(replace(r, prior=0.97 if not r.part else 0.01) for r in outlook.rows))
    guess = value_guess(
        posterior(healthy, [Reading(0, volts)]),
        drawn,
        "R1",
        "ohms",
        dict.fromkeys((6800.0, 8200.0, 10000.0, 12000.0, 15000.0), 1.0),
    )
    assert abs(np.log(guess.best / ohms)) < 0.21
    assert guess.low <= ohms <= guess.high
    assert guess.told > 0.4


def test_a_known_value_is_not_guessed():
    outlook, drawn = unit()
    assert value_guess(posterior(outlook, [Reading(0, 6.0)]), drawn, "R2", "ohms", {10e3: 1.0}) is None


def test_a_connection_is_worth_a_look_only_where_readings_are_not_explained():
    """11 V at the middle no row makes: the connection there; nothing at the supply, which fits. A reading that fits: nowhere."""
    outlook, _ = unit(width=0.1)
    odd = posterior(outlook, [Reading(0, 11.0), Reading(1, 12.0)])
    assert odd.not_on_sheet > 0.3
    middle, supply = (connection_gain(outlook, odd, frozenset({n})) for n in ("mid", "in"))
    assert middle > 2 * supply
    assert connection_gain(outlook, odd, frozenset({"mid"}), among=4) < middle
    plain = posterior(outlook, [Reading(0, 6.0), Reading(1, 12.0)])
    assert connection_gain(outlook, plain, frozenset({"mid"})) == 0.0
