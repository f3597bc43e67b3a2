"""A node's waveform: the textbook's capacitor-input rectifier, the table's own DC and AC columns, and what is not drawn.

SOURCE  textbook approximation, recalled: ripple of a full-wave rectifier with a reservoir is I/(2 f C) peak to peak, taken as if
        the capacitor alone fed the load the whole half period; the true one is less by the share in which the diodes conduct, 20
        to 25 % at most where the source is stiff. Its frequency is twice that of the mains, with one diode of the bridge open that
        of the mains.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from halfsplit.diagnosis.columns import Condition
from halfsplit.jobs.examples import DEMO
from halfsplit.jobs.job import Job
from halfsplit.jobs.kit import read_kit
from halfsplit.jobs.predicted_spread import spread
from halfsplit.jobs.predicted_wave import figures_of, wave_of, waveform
from job_support import KIT, FakeClock, sure

Maker = Callable[..., Job]
OHMS, FARADS = 2000.0, 100e-6
STIFF = b"""unit: fan speed box, 230V 50Hz, class II, 60W
symptom: dead
ways:
- L F1(T1A) live
- bulk C1(100u 400V) hot-
- bulk R1(2k 60W) hot-
parts:
- BR1 bridge 4A, ~=live ~=N +=bulk -=hot-
"""


def plain(job: Job, *args: Any, **more: Any) -> dict[str, Any]:
    """The picture, which has to go through JSON as it is."""
    return dict(json.loads(json.dumps(waveform(job, *args, **more), allow_nan=False)))


def dead(job: Job) -> Job:
    assert job.advice is not None
    sure(job, "dead 9V " + " ".join(f"{c} 0.3V" for c in job.advice.card["caps"]))
    return job


@pytest.fixture
def stiff(tmp_path: Path) -> Job:
    """A bridge straight on the mains, a reservoir and a resistor."""
    job = Job(tmp_path / "stiff", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=FakeClock())
    job.begin_from_sheet(STIFF, "stiff")
    job.first()
    sure(job, "off")
    return dead(job)


@pytest.fixture
def linear(new_job: Maker) -> Job:
    """A small linear supply, on."""
    job = dead(new_job())
    sure(job, "OL OL", "fuse 0.2 r", "on", "raw 17.6")
    return job


def test_ripple_of_a_stiff_bridge_is_the_textbooks(stiff: Job) -> None:
    """Between 75 and 100 % of I/(2 f C), at 100 Hz; and it falls as the capacitor alone lets it: exponentially, with R C."""
    got = plain(stiff, "bulk", "hot-", state="on")["healthy"]
    textbook = got["mean"] / OHMS / (2 * 50.0 * FARADS)
    assert 0.75 * textbook < got["ripple"] < textbook
    assert got["frequency"] == 100.0
    volts = np.array(got["volts"])
    falling = volts[1:][np.diff(volts) < 0] / volts[:-1][np.diff(volts) < 0]
    decay = np.exp(-0.02 / len(volts) / (OHMS * FARADS))
    assert np.median(falling) == pytest.approx(decay, rel=2e-4)


def test_the_peak_is_the_mains_less_two_junctions(stiff: Job) -> None:
    """325 V less two silicon junctions and what fuse and lead take: 320 to 325 V."""
    volts = plain(stiff, "bulk", "hot-", state="on")["healthy"]["volts"]
    assert 320.0 < max(volts) < np.sqrt(2) * 230.0


@pytest.mark.parametrize(("net", "black"), [("raw", "0V"), ("+12", "0V")])
def test_mean_and_ac_are_those_of_the_table(linear: Job, net: str, black: str) -> None:
    """Within 1 % of the DC column at nominal values, healthy and for each suspect drawn, and the AC column likewise."""
    assert linear.table is not None
    block = linear.table.live(Condition(True))
    got = plain(linear, net, black)
    names = [f"{s.row.part} {s.row.way}" for s in linear.table.suspects]
    checked = 0
    for picture in (got["healthy"], *got["suspects"]):
        row = 0 if picture["part"] is None else names.index(picture["name"])
        for function, figure in (("v", "mean"), ("ac", "ac")):
            for j, c in enumerate(block.columns):
                if (c.function, c.red, c.black) == (function, net, black):
                    assert picture[figure] == pytest.approx(block.value[row, j, 0], rel=0.01, abs=1e-3)
                    checked += 1
    assert checked >= 4 and len(got["suspects"]) == 3


def test_time_covers_one_period_in_at_most_200_steps(linear: Job) -> None:
    """The mains' own sine tells where each step stands: its rise through nought is the end of the period."""
    got = plain(linear, "L", "N")
    ms, volts = np.array(got["ms"]), np.array(got["healthy"]["volts"])
    assert len(ms) == len(volts) <= 200 and ms[-1] == pytest.approx(20.0)
    np.testing.assert_allclose(volts, np.sqrt(2) * 230 * np.sin(2 * np.pi * ms / 20), atol=3.0)
    assert got["healthy"]["frequency"] == 50.0 and got["healthy"]["rms"] == pytest.approx(230.0, rel=0.005)


def test_a_bridge_with_one_diode_open_ripples_at_mains_frequency(linear: Job) -> None:
    """Half a bridge: once a period, and more than twice as deep since the capacitor bridges a whole period."""
    assert linear.table is not None
    solved = linear.table.nominal(Condition(True))
    row = next(i for i, s in enumerate(linear.table.suspects) if (s.row.part, s.row.way) == ("bridge", "open-1"))
    whole, half = (wave_of(solved, r, "raw", "0V", 50.0) for r in (0, row))
    assert (whole["frequency"], half["frequency"]) == (100.0, 50.0)
    assert half["ripple"] > 1.8 * whole["ripple"] and half["mean"] < whole["mean"]


def test_figures_of_a_known_wave() -> None:
    """5 V with 1 V peak of the third harmonic: rms by Pythagoras."""
    t = (np.arange(120) + 1) / 120
    got = figures_of(5.0 + np.sin(2 * np.pi * 3 * t), 60.0)
    assert got["mean"] == pytest.approx(5.0) and got["ripple"] == pytest.approx(2.0, rel=0.01)
    assert got["rms"] == pytest.approx(np.sqrt(25.5)) and got["ac"] == pytest.approx(np.sqrt(0.5)) and got["frequency"] == 180.0
    assert figures_of(np.full(100, 5.0), 50.0)["frequency"] is None


def test_a_lamp_in_series_is_in_the_picture(linear: Job) -> None:
    """Behind 25 W of lamp the reservoir stands lower."""
    direct = plain(linear, "raw", "0V")
    sure(linear, "off", "lamp 25")
    dead(linear)
    sure(linear, "on")
    behind = plain(linear, "raw", "0V")
    assert direct["state"] == "on" and behind["state"] == "on@25W"
    assert behind["healthy"]["mean"] < 0.98 * direct["healthy"]["mean"]


def test_a_set_that_is_not_on_has_no_waveform(new_job: Maker, linear: Job) -> None:
    """Plain words, no data: nothing weighed, dead, off again, no such net."""
    fresh = new_job("fresh")
    assert "Nothing is weighed yet" in waveform(fresh, "raw", "0V")["refused"]
    sure(linear, "off")
    off = waveform(linear, "raw", "0V")
    assert off["refused"] == off["text"] == "The set is not on: there is no waveform." and "healthy" not in off
    assert "dead" in waveform(linear, "raw", "0V", state="dead")["refused"]
    assert "nowhere" in waveform(linear, "nowhere", "0V", state="on")["refused"]
    assert "on+bake" in waveform(linear, "raw", "0V", state="on+bake")["refused"]


def test_the_cautious_word_is_for_what_counts_as_mains_side(linear: Job) -> None:
    """L is; the reservoir behind the transformer is not any more, once the gap was read."""
    assert "oscilloscope" in plain(linear, "L", "N")["caution"]
    assert plain(linear, "raw", "0V")["caution"] is None


def test_a_converter_is_an_average_and_its_switching_nodes_are_not_shown(new_job: Maker) -> None:
    """Neither a waveform nor a spread is given for a node that switches; a converter that hiccups has two states."""
    job = dead(new_job(lines=(*DEMO.lines[:3], "off")))
    assert job.table is not None and job.advice is not None and job.table.circuit.switching
    for node in sorted(job.table.circuit.switching):
        assert "no meter belongs on it" in spread(job, node, "hot-", "v", state="on")["refused"]
        for got in (waveform(job, node, "hot-", state="on"), waveform(job, "bulk", node, state="on")):
            assert "average over switching" in got["refused"] and "no meter belongs on it" in got["text"] and "healthy" not in got
    bulk = plain(job, "bulk", "hot-", state="on")
    assert "average over its switching" in bulk["averaged"] and bulk["averaged"] in bulk["text"]
    shorted = next(s for s in bulk["suspects"] if (s["part"], s["way"]) == ("out-load", "short"))
    assert shorted["other"] is not None
    vcc = next(s for s in plain(job, "vcc", "hot-", state="on")["suspects"] if s["name"] == "out-load short")
    assert abs(np.mean(vcc["other"]) - vcc["mean"]) > 0.5
    solved = job.table.nominal(Condition(True))
    rows = [int(i) for i in np.flatnonzero(solved.pulsing & solved.ok)]
    assert len(rows) > 1  # each has its own second state; where its burst isn't followed a meter shows the middle of both
    for row in rows:
        wave = wave_of(solved, row, "vcc", "hot-", 50.0)
        shown = solved.reading("vcc", "hot-", "v")[row]
        low, high = sorted((wave["mean"], float(np.mean(wave["other"]))))
        if row not in solved.bursting:
            assert 0.5 * (low + high) == pytest.approx(shown, abs=1e-9)
        else:
            assert solved.reading("vcc", "hot-", "min")[row] < shown < solved.reading("vcc", "hot-", "max")[row]
    good = plain(job, "bulk", "hot-", state="on")["healthy"]
    assert good["other"] is None and good["frequency"] == 100.0
