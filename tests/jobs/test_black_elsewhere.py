"""The black lead left on the mains side's 0 V while the gap is read: common practice names it as the usual slip there."""

from __future__ import annotations

from collections.abc import Callable

from halfsplit.jobs.job import Job

Maker = Callable[..., Job]
FLYBACK = (
    "unit: label printer, 230V 50Hz, class II, 45W",
    "symptom: ticks",
    "start: flyback with controller 16/10V; out 24V 1.5A",
    "off",
)


def odds_of(answer: dict, part: str) -> float:
    return sum(s["odds"] for s in answer["suspects"] if s["part"] == part)


def test_ohms_across_the_gap_that_stand_on_the_other_side_ask_where_black_was(new_job: Maker) -> None:
    """L and N to the cold 0 V read what they have to the hot one: one question, with the line that puts both right, and no
    conviction of the capacitor across the gap. The right line then clears it."""
    job = new_job(lines=FLYBACK)
    caps = job.advice.card["caps"] if job.advice else []
    assert job.send("dead 9V " + " ".join(f"{name} 0" for name in caps) + " 9V")["ok"]
    answer = job.send("1.823M 1.822M")
    assert answer["card"]["kind"] != "end"
    assert answer["doubt"] is not None and "black" in answer["doubt"]["ask"] and "hot-" in answer["doubt"]["ask"]
    before = odds_of(answer, "y-cap")
    answer = job.send(answer["doubt"]["type"]["yes"])
    assert answer["ok"], answer["refused"]
    assert odds_of(answer, "y-cap") < 0.2 * before


def test_ohms_across_the_gap_as_they_should_be_ask_nothing(new_job: Maker) -> None:
    job = new_job(lines=FLYBACK)
    caps = job.advice.card["caps"] if job.advice else []
    assert job.send("dead 9V " + " ".join(f"{name} 0" for name in caps) + " 9V")["ok"]
    assert job.send("OL OL")["doubt"] is None
