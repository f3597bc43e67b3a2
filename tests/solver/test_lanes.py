"""Eight variants side by side: each lane computes what a plain number would, and none of them knows of the others."""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import Condition
from halfsplit.diagnosis.suspects import suspects
from halfsplit.solver.compiled.lanes import WIDTH
from halfsplit.solver.network import build_network
from halfsplit.solver.powered import solve_periodic
from solver.lane_doors import chosen, functions, tickets

RNG = np.random.default_rng(3)


def test_functions_are_those_of_the_library():
    """e^x and ln x against numpy's: the powers of e that a junction needs to 1e-13, beyond +-700 as there; the rest exactly."""
    x = np.concatenate(
        [RNG.uniform(-700, 700, (500, WIDTH)), RNG.normal(size=(500, WIDTH)) * 10.0 ** RNG.uniform(-12, 2, (500, WIDTH))]
    )
    out = np.zeros((5, *x.shape))
    functions(x, out)
    np.testing.assert_allclose(out[0], np.exp(x), rtol=1e-13)
    np.testing.assert_allclose(out[1], np.log(np.abs(x)), rtol=1e-13, atol=1e-15)
    for got, want in zip(out[2:], (np.floor(x), np.abs(x), np.sqrt(np.abs(x))), strict=True):
        np.testing.assert_array_equal(got, want)
    far = np.tile([[1e4], [-1e4]], WIDTH)
    functions(far, out[:, :2])
    np.testing.assert_allclose(out[0, :2], np.exp(np.sign(far) * 700.0), rtol=1e-13)


def test_choices_are_made_lane_by_lane():
    """Masks, arithmetic with plain numbers, the smaller and the larger."""
    x, y = RNG.normal(size=(1, WIDTH)), RNG.normal(size=(1, WIDTH))
    y[0, 2] = x[0, 2]
    out = np.zeros((6, WIDTH))
    assert chosen(x, y, out) == (bool((x < y).any()), False, False, True)
    want = [
        np.where(x < y, x, y),
        np.where(x > y, 1.0, 0.0),
        2 * x - y / 4 + 1,
        np.minimum(x, y),
        np.maximum(x, 0.5),
        np.full(WIDTH, 7.0),
    ]
    np.testing.assert_allclose(out, np.concatenate([np.broadcast_to(w, (1, WIDTH)) for w in want]), rtol=1e-15)


def test_names_keep_their_values_beside_lanes():
    """Numbers of a queue come in order, and a name that is assigned anew in a later loop doesn't reach back into an earlier one."""
    np.testing.assert_array_equal(tickets(np.zeros(1, np.int64), 5), [0, 101, 202, 303, 0])


@pytest.mark.parametrize("line", ["flyback with controller 16/10V; out 24V 1.5A", "dropper, 24V relay board; heater 580W"])
def test_a_lane_knows_nothing_of_its_neighbours(line):
    """Every fault's periodic state is the same alone and in company, in whatever order: 0.05 % and 2 mV, where the search stops."""
    c = start_circuit(line, Unit("set", 230.0, 50.0, "I", 45.0), ())
    rows = suspects(c)
    drawn = build.draw(c, rows, draws=1, times=1)
    order = np.random.default_rng(5).permutation(len(rows))[:24]
    together = solve(c, drawn, order)
    back = solve(c, drawn, order[::-1])
    np.testing.assert_array_equal(together.ok, back.ok[::-1])
    good = np.flatnonzero(together.ok)
    np.testing.assert_allclose(together.wave[good].mean(2), back.wave[::-1][good].mean(2), rtol=1e-3, atol=5e-3)
    for k in good[::5]:
        alone = solve(c, drawn, order[k : k + 1])
        assert alone.ok[0]
        np.testing.assert_allclose(alone.wave[0].mean(1), together.wave[k].mean(1), rtol=1e-3, atol=5e-3)


def solve(c, drawn, rows):
    """Periodic state of some rows, all modes as they begin."""
    values = build.press(build._only(build._tile(drawn, build._pairs(rows, [0])), c), c, Condition(True))
    return solve_periodic(build_network(c, values, len(rows), powered=True))
