"""Parts of a starting sheet that are of another size on this board: read across, that is no fault until their print was read.

SOURCE: that boards of one topology differ in their sizes is common practice; how much is a bench estimate in `diagnosis/sizes.py`.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.columns import make_column
from halfsplit.diagnosis.scale import scale_of
from halfsplit.diagnosis.sizes import OTHER_SIZE, REACH, STANDS, size_shown, sized_density
from halfsplit.jobs.job import Job
from job_support import THREE, sure

COLUMN = make_column("r", "a", "b", "dead", where="R1")
SUBWOOFER = (
    "unit: subwoofer, 120V 60Hz, class I, 200W",
    "symptom: no sound",
    "start: class-D amplifier; rails 45V; speaker 4R",
    "off",
    "dead 9V bulk-cap 0.3 plus-cap 0.02 minus-cap 0.01 vcc-cap 0.0 boot-cap 0.0 9V",
    "OL OL",
)


def _density(found: np.ndarray, predicted: float, healthy: float = 2200.0) -> np.ndarray:
    x = np.array([[predicted]])
    return np.array([float(sized_density(COLUMN, x, f, np.array([[0.01]]), healthy)[0, 0]) for f in found])


@pytest.mark.parametrize("predicted", [2200.0, 2800.0, 2.0, 20e3])
def test_the_density_is_one_over_everything_that_could_be_read(predicted):
    """Integrated over the scale: a proper density, for cells that leave the reading to the part and for those that don't."""
    z = np.linspace(*scale_of(COLUMN).forward([0.05, 60e6]), 400_001)
    total = np.trapezoid(_density(scale_of(COLUMN).back(z), predicted), z)
    assert total == pytest.approx(1.0, abs=0.01)


def test_another_size_is_allowed_for_where_the_part_is_what_is_read():
    """Half as much again: likely enough from a healthy part of the sheet's size, impossible where a short beside it is read."""
    assert _density(np.array([3300.0]), 2200.0)[0] == pytest.approx(OTHER_SIZE / (2 * REACH) * (3300 + 0.3) / 3300 * math.log(10), rel=1e-3)
    assert _density(np.array([3300.0]), 2200.0 * math.exp(2 * STANDS))[0] < 1e-6
    assert _density(np.array([2200.0 * math.exp(1.1 * REACH)]), 2200.0)[0] < 1e-6


def test_only_the_own_value_of_a_part_nobody_has_seen():
    circuit = start_circuit("linear 12V 1A", Unit("radio", 230.0, 50.0, "II", 25.0), ())
    cap = circuit.part("reservoir")
    across = make_column("c", cap.pins["+"], cap.pins["-"], "dead", where="reservoir")
    farads = cap.values["farads"]
    assert size_shown(circuit, across, farads) == cap
    assert size_shown(circuit, across, 3 * farads) is None  # something beside it is read as well
    assert size_shown(circuit, make_column("v", "raw", "0V", "on", where="raw"), 16.0) is None
    seen = circuit.with_parts(tuple(replace(p, assumed=False) if p.ref == cap.ref else p for p in circuit.parts))
    assert size_shown(seen, across, farads) is None


@pytest.fixture
def subwoofer(new_job) -> Job:
    """A class-D board, dead and proven so, its sides proven."""
    job: Job = new_job(lines=SUBWOOFER)
    return job


def test_a_resistor_a_quarter_up_accuses_nobody_while_its_print_is_unread(subwoofer):
    """2.76 kohm where the sheet assumes 2.2: many boards have 2.7 there."""
    before = subwoofer.advice.not_on_sheet
    answer = sure(subwoofer, "vcc-R 2.76k")
    assert subwoofer.advice.not_on_sheet < before + 0.02
    assert all(s["odds"] < 0.05 for s in answer["suspects"] if s["part"] == "vcc-R")


def test_once_its_print_was_read_it_is_held_to_it(subwoofer):
    """The same ohms at a resistor that says 2.2 kohm are nothing that its tolerance does; one that says 2.7 is cleared."""
    sure(subwoofer, "vcc-R 2.76k")
    before = subwoofer.advice.not_on_sheet
    sure(subwoofer, "R5 vcc-R 2k2")
    told = {s["part"]: s["odds"] for s in subwoofer.advice.suspects}
    assert subwoofer.advice.not_on_sheet + told.get("R5", 0.0) > before + 0.1


def test_the_first_cold_round_begins_at_the_plug(new_job):
    """Ohms from L to N at the plug: lead, fuse, switch and primary in one reading, with no screw undone (common practice)."""
    job = new_job(lines=(*THREE, "off", "dead 9V reservoir 0.1 out-cap 0.02 9V", "OL OL"))
    probes = {p["where"]: p for p in job.advice.card["probes"]}
    assert "L to N" in probes
    assert "pin of the plug" in probes["L to N"]["lead"]
    assert "pin of the plug" in probes["L to N"]["black_lead"]
    sure(job, "L to N OL")
    told = sum(s["odds"] for s in job.advice.suspects if s["part"] in ("fuse", "lead", "switch", "transformer"))
    assert told > 0.6  # the rest has blown the fuse
