"""What to trace or identify next: asked once, never while live, priced in minutes; and parts that are named again later.

SOURCE of minutes and weights: bench estimates in `jobs/tell.py`. E-series: IEC 60063. The bread maker: `examples/bread_maker.yaml`.
"""

from __future__ import annotations

import pytest

from halfsplit.cli.show import show
from halfsplit.jobs.fold import circuit_of
from halfsplit.jobs.said_later import said_last
from halfsplit.jobs.tell import ASK_FROM, MOST, _short, standard_values, unknowns

UNIT = ("unit", "radio, 230V 50Hz, class II, 25W")
LINEAR = (
    "unit: radio, 230V 50Hz, class II, 25W",
    "symptom: dead",
    "start: linear 12V 1A",
    "off",
    "dead 9V reservoir 0.4V out-cap 0.4V",
)


def test_a_size_that_looks_like_drift_is_asked_for_once(new_job):
    """The reservoir reads a tenth: it may be dried, or a smaller one. Its print says it in a minute; it is asked for once."""
    job = new_job(lines=LINEAR)
    answer = job.send("reservoir 440u")
    card = answer["card"]
    assert (card["kind"], card["do"], card["hazard"]) == ("act", "tell", "H0")
    assert "reservoir" in card["text"]
    after = job.send("card")
    assert after["card"].get("do") != "tell"
    for line in ("fuse 2.2r", "bridge.- to bridge.~2 0.55 d"):
        later = job.send(line)
        assert later["card"].get("about") != card["about"]


def test_things_to_look_at_use_up_no_question_about_slips(new_job):
    """Three questions a job are kept for slips and mistakes, however often something is to be looked at."""
    job = new_job(lines=LINEAR)
    assert job.send("reservoir 440u")["card"]["do"] == "tell"
    assert job.traced and not job.asked


def test_what_the_card_asks_for_may_be_typed_and_clears_the_part(new_job):
    """A 470u reservoir that reads 440u is no suspect any more."""
    job = new_job(lines=LINEAR)
    before = job.send("reservoir 440u")["suspects"][0]
    assert before["part"] == "reservoir"
    answer = job.send("C5 reservoir 470u 35V")
    assert answer["ok"]
    assert not answer["warn"]
    assert all(s["odds"] < 0.2 for s in answer["suspects"] if s["part"] == "C5")


def test_never_while_a_live_set_waits(new_job):
    job = new_job(lines=LINEAR)
    job.asked.clear()
    job.send("on")
    for line in ("raw 9.0", "+12 3.0", "+12 4.4"):
        answer = job.send(line)
        assert answer["ok"]
        assert answer["card"].get("do") != "tell"


def test_tell_lists_what_saves_a_minute_or_more(new_job):
    job = new_job(lines=LINEAR)
    job.send("reservoir 440u")
    told = job.send("tell")["tell"]
    assert 1 <= len(told["trace"]) <= MOST
    assert all(t["saves"] >= ASK_FROM and t["minutes"] > 0 and t["gain"] > 0 for t in told["trace"])
    assert [t["saves"] for t in told["trace"]] == sorted((t["saves"] for t in told["trace"]), reverse=True)
    assert told["trace"][0]["what"] == "reservoir"
    assert "Worth seeing" in show(job.send("tell"))


def test_before_any_reading_nothing_is_told(new_job):
    assert new_job(lines=LINEAR[:4]).send("tell")["tell"] == {"trace": [], "values": []}


def test_an_unreadable_value_comes_from_the_readings(new_job):
    """R2 is doubted; 4.8 V at the middle of 12 V over 10k says 15k; what is typed for it later takes its place."""
    lines = (
        "unit: radio, 230V 50Hz, class II, 25W",
        "symptom: dead",
        "start: linear 12V 1A",
        "way +12 R2(12k?) mid R3(10k) 0V",
        "off",
        "dead 9V reservoir 0.4V out-cap 0.4V",
        "on",
        "mid 4.8",
        "+12 12.0",
    )
    job = new_job(lines=lines)
    (value,) = job.send("tell")["tell"]["values"]
    assert value["part"] == "R2"
    assert value["low"] <= 15e3 <= value["high"]
    assert value["value"] in (13e3, 15e3, 16e3)
    assert value["text"].startswith("R2 probably ")
    assert job.send("parts: R2 resistor 15k")["ok"]
    assert job.standing.circuit.part("R2").values["ohms"] == 15e3
    assert "ohms" not in job.standing.circuit.part("R2").doubts
    assert job.send("tell")["tell"]["values"] == []


def test_unknowns_are_doubts_assumed_parts_and_assumed_connections():
    circuit = circuit_of(
        (UNIT, ("start", "linear 12V 1A"), ("way", "+12 R2(12k?) mid R3?(10k) 0V"), ("parts", "C5 reservoir 2200u 35V"))
    )
    kinds = {(u.kind, u.ref) for u in unknowns(circuit)}
    assert {("value", "R2"), ("connection", "R3"), ("place", "bridge")} <= kinds
    assert ("place", "C5") not in kinds
    assert not any(ref == "mains" for _, ref in kinds)


@pytest.mark.parametrize(
    ("sheet", "wanted"),
    [
        ((("parts", "R5 driver-R"), ("parts", "R5 driver-R 10k")), (("parts", "R5 driver-R 10k"),)),
        ((("way", "a R8?(330R?) b"), ("parts", "R8 resistor 360R")), (("way", "a R8(resistor 360R) b"),)),
        ((("way", "a R8(330R) b"), ("parts", "R8 resistor 360R")), (("way", "a R8(330R) b"), ("parts", "R8 resistor 360R"))),
        ((("parts", "R5 driver-R"), ("parts", "R5 driver-R 10k?")), (("parts", "R5 driver-R 10k?"),)),
        ((("way", "a C2(470u?) b"), ("parts", "C2 electrolytic")), (("way", "a C2(470u?) b"), ("parts", "C2 electrolytic"))),
        (
            (("parts", "Q1 npn; R5 driver-R"), ("parts", "C3 rail-cap; R5 driver-R 4k7")),
            (("parts", "Q1 npn; R5 driver-R 4k7"), ("parts", "C3 rail-cap")),
        ),
    ],
)
def test_what_is_said_later_takes_the_place_of_what_was_doubted(sheet, wanted):
    """A doubt gives way; what was certain in a way stays, and the sheet then says so as ever."""
    assert said_last(sheet) == wanted


def test_standard_values_and_how_they_are_printed():
    values = standard_values(30e3, 60e3, twins=(51e3,))
    assert {33e3, 39e3, 43e3, 47e3, 51e3, 56e3} <= set(values)
    assert values[47e3] > values[39e3] > values[43e3]
    assert values[51e3] > values[43e3]
    assert standard_values(0.0, 1.0) == {}
    assert [_short(x, u) for x, u in ((47e3, "ohm"), (330.0, "ohm"), (4.7e-6, "F"), (24.0, "V"))] == [
        "47k",
        "330R",
        "4.7u",
        "24V",
    ]
