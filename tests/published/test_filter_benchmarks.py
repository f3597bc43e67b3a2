"""Published filter benchmarks, classified by the same posterior that serves the bench.

SOURCE  data/analog_fault_benchmarks.csv, all recalled: Sallen-Key band-pass and biquad high-pass (papers report 99-100 % and 95-100 % with
        neural classifiers), leapfrog and state-variable filters of the ITC 1997 set. filters.py rebuilds the circuits.
TAKEN   nine magnitudes at the output over four octaves, no phase; closed classes as in the papers (nothing undrawn, no pairs, no mistakes).
BOUND   what is reached here less a margin for the seed: 8 fresh units a class. Measured with 12: SK 100 %, BQ 90 %, LEAP 73 %, CTSV 90 %;
        a quadratic discriminant on 600 fresh units a class has 100, 84, 77 and 91 %, so it is the circuits that say no more. What
        can't be told apart at one output, and why:
        BQ    R4 and C2 enter only as R4 C2, the time constant of the second integrator: up is up. As one group, 100 %.
        LEAP  the ladder is the same from both ends: C1 and C4 are one class, R4 and R8 another. So put together, 98 %.
        CTSV  R6 and R7 are a divider: R6 shorted is R7 open. As one group, 99 %.
        A paper's 95-100 % on these classes needs another drawing, another output, or classes put together.
"""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from halfsplit.diagnosis.groups import overlap
from halfsplit.diagnosis.outlook import Reading
from halfsplit.diagnosis.posterior import DEFAULT, posterior
from published.filters import BIQUAD, EVERY, LEAPFROG, SALLEN_KEY, STATE_VARIABLE, magnitudes, outlook_of, units_of

LINES = (Path(__file__).parent / "data" / "analog_fault_benchmarks.csv").read_text(encoding="utf-8").splitlines()
CASES = {line["id"]: line for line in csv.DictReader(LINES)}
CLOSED = replace(DEFAULT, not_on_sheet=0.0, two_at_once=0.0, mistakes=0.0)
UNITS = 8


@cache
def classified(circuit):
    """Confusion (classes, classes) and mean log loss over fresh units."""
    outlook, rng = outlook_of(circuit), np.random.default_rng(7)
    count = len(outlook.rows)
    confusion, loss = np.zeros((count, count), dtype=int), 0.0
    for i, fault in enumerate(circuit.classes):
        for shown in units_of(circuit, fault, UNITS, rng):
            post = posterior(outlook, [Reading(j, float(v)) for j, v in enumerate(shown)], setting=CLOSED)
            confusion[i, int(np.argmax(post.row_odds))] += 1
            loss -= float(np.log(post.row_odds[i]))
    return outlook, confusion, loss / confusion.sum()


def share_right(outlook, confusion, *groups):
    """Share of units whose class was named; of a group of parts, any of them."""
    name = {p: g[0] for g in groups for p in g}
    named = [name.get(row.part, row.part) for row in outlook.rows]
    same = np.array([[a == b for b in named] for a in named])
    each = np.eye(len(named), dtype=bool)
    grouped = np.array([row.part in name for row in outlook.rows])
    return float(confusion[np.where(grouped[:, None], same, each)].sum() / confusion.sum())


@pytest.mark.parametrize("circuit", EVERY, ids=lambda c: c.name)
def test_the_file_says_recalled_and_the_parts_are_its_own(circuit):
    assert CASES[circuit.name]["mark"] == "recalled"
    named = set(re.findall(r"[RC]\d+", CASES[circuit.name]["values"]))
    assert named <= set(circuit.parts)  # the file writes runs of equal parts as R1-R13
    assert circuit in (LEAPFROG, STATE_VARIABLE) or named == set(circuit.parts)


def peak(circuit):
    nominal = {name: np.array([x]) for name, (_, _, x) in circuit.parts.items()}
    sweep = np.geomspace(circuit.hertz[0], circuit.hertz[-1], 4001)
    shown = magnitudes(circuit, nominal, sweep)[0]
    return sweep, shown


def test_sallen_key_stands_where_the_files_formula_puts_it():
    """w0 = sqrt((R1 + R2) / (R1 R2 R3 C1 C2)): 25.99 kHz, where a band-pass has its peak. Checked formula of the file."""
    sweep, shown = peak(SALLEN_KEY)
    w0 = np.sqrt((1e3 + 3e3) / (1e3 * 3e3 * 2e3 * 5e-9 * 5e-9))
    assert w0 / (2 * np.pi) == pytest.approx(25.99e3, rel=1e-3)
    assert sweep[shown.argmax()] == pytest.approx(w0 / (2 * np.pi), rel=2e-3)


def test_biquad_is_the_high_pass_of_the_files_formula():
    """f0 = 1 / (2 pi sqrt(6.2k 1.6k) 5n) = 10.1 kHz: there a second-order high-pass has Q times its end value; far below it falls by
    four an octave."""
    f0 = 1 / (2 * np.pi * np.sqrt(6.2e3 * 1.6e3) * 5e-9)
    assert f0 == pytest.approx(10.1e3, rel=2e-3)
    nominal = {name: np.array([x]) for name, (_, _, x) in BIQUAD.parts.items()}
    low, twice, here, far = magnitudes(BIQUAD, nominal, [100.0, 200.0, f0, 1e6])[0]
    assert twice / low == pytest.approx(4.0, rel=1e-2)
    assert here / far == pytest.approx(6.2e3 / np.sqrt(6.2e3 * 1.6e3), rel=1e-2)


def test_leapfrog_and_state_variable_stand_where_the_file_puts_them():
    """Leapfrog: half the volts of a doubly terminated ladder at low frequencies, 3 dB below that between 1.0 and 1.6 kHz (the file says
    1.4 kHz, recalled). State variable: 90 degrees at 796 Hz, so low-pass volts there are Q times those far below."""
    sweep, shown = peak(LEAPFROG)
    assert shown[0] == pytest.approx(1.5, rel=0.03)
    assert 1.0e3 < sweep[np.flatnonzero(shown > 1.5 / np.sqrt(2))[-1]] < 1.6e3
    nominal = {name: np.array([x]) for name, (_, _, x) in STATE_VARIABLE.parts.items()}
    f0 = 1 / (2 * np.pi * 1e4 * 20e-9)
    assert f0 == pytest.approx(796.0, rel=1e-3)
    low, here = magnitudes(STATE_VARIABLE, nominal, [1.0, f0])[0]
    assert here / low == pytest.approx(1 / (3 * 3e3 / (3e3 + 7e3)), rel=1e-2)  # three inputs of 10k: damping 3 R6 / (R6 + R7)


def test_sallen_key_is_classified_as_the_papers_have_it():
    outlook, confusion, loss = classified(SALLEN_KEY)
    assert confusion.shape == (9, 9)
    assert share_right(outlook, confusion) >= 0.97
    assert loss < 0.1


def test_biquad_is_told_but_for_the_two_that_are_one_time_constant():
    outlook, confusion, loss = classified(BIQUAD)
    assert confusion.shape == (13, 13)
    assert 0.80 <= share_right(outlook, confusion) < 1.0
    assert share_right(outlook, confusion, ("R4", "C2")) >= 0.97
    assert loss < 0.4


def test_leapfrog_is_told_up_to_its_own_symmetry():
    outlook, confusion, loss = classified(LEAPFROG)
    assert 0.60 <= share_right(outlook, confusion) < 0.95
    assert share_right(outlook, confusion, ("R4", "R8"), ("C1", "C4")) >= 0.93
    assert loss < 0.7


def test_state_variable_is_told_but_for_its_divider():
    outlook, confusion, loss = classified(STATE_VARIABLE)
    assert share_right(outlook, confusion) >= 0.80
    assert share_right(outlook, confusion, ("R6", "R7")) >= 0.95
    assert loss < 0.3


def test_groups_are_found_by_overlap_before_a_unit_is_read():
    """R4 up of the biquad shares most of what it shows with C2 up, and little with C2 down or R1 up."""
    outlook, _, _ = classified(BIQUAD)
    row = {(r.part, r.way): i for i, r in enumerate(outlook.rows)}
    columns = range(len(outlook.columns))
    assert overlap(outlook, row["R4", "up"], [row["C2", "up"]], columns)[0] > 0.6
    assert overlap(outlook, row["R4", "up"], [row["C2", "down"], row["R1", "up"]], columns).max() < 0.2
