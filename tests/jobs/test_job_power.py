"""The power state of each side in a running job: what proves it dead, what ends that, and what may be done meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from halfsplit.jobs.gate import Gate
from halfsplit.jobs.isolation import breach_rows, isolation
from halfsplit.jobs.job import Job
from halfsplit.jobs.kit import read_kit
from halfsplit.jobs.safety import NoGo
from halfsplit.jobs.switch import weakest_amps
from job_support import KIT, FakeClock

Maker = Callable[..., Job]
PRINTER = ("unit: label printer, 230V 50Hz, class II, 40W", "symptom: dead", "start: flyback with controller; out 24V 1.5A")


def enter(job: Job, *lines: str) -> dict:
    answer: dict = {}
    for line in lines:
        answer = job.send(line)
        assert answer["ok"], f"{line}: {answer['refused']}"
    return answer


def refused(job: Job, line: str) -> str:
    """The reason; nothing may have been logged."""
    before = len(job.log.lines())
    answer = job.send(line)
    assert not answer["ok"], line
    assert len(job.log.lines()) == before
    return str(answer["refused"])


def gate_of(job: Job) -> Gate:
    return job._gate()


# ---- what proves it


def test_dead_wants_the_meter_on_a_known_source_and_says_how(new_job: Maker) -> None:
    """Volts of a meter that showed nothing known prove nothing; the refusal holds the line to type."""
    job = new_job()
    why = refused(job, "dead reservoir 0.3V out-cap 0.2V")
    assert "known voltage" in why and "dead 9V reservoir" in why
    assert refused(job, "dead 3V reservoir 0.3V out-cap 0.2V").count("5 V or more") == 1
    assert enter(job, "dead 9V reservoir 0.3V out-cap 0.2V")["state"]["power"] == "dead"


def test_bare_volts_answer_the_dead_card_and_are_logged_with_their_names(new_job: Maker) -> None:
    """In the order of the card, the source in front and behind; the log can be read without the card."""
    job = new_job()
    assert job.advice is not None and job.advice.card["meter"] == "prove"
    enter(job, "dead 9V 0.3 0 9V")
    assert [line.text for line in job.log.lines()][-1] == "dead 9V reservoir 0.3V out-cap 0V 9V"
    assert "names" in refused(job, "dead 0.3") or "which capacitors" in refused(job, "dead 0.3")


def test_an_exact_zero_waits_for_the_source_and_is_made_good_by_one_short_line(new_job: Maker) -> None:
    """0.0 V where a charge may be is logged, asks for the source again, and allows no ohms until then."""
    job = new_job()
    answer = enter(job, "dead 9V reservoir 0V out-cap 0V")
    assert answer["state"]["power"] == "unplugged" and answer["card"]["do"] == "meter"
    assert "not proven dead" in refused(job, "fuse 0.2 r")
    assert enter(job, "meter 9.1V 9V")["state"]["power"] == "dead"
    enter(job, "fuse 0.2 r")


def test_a_zero_made_good_too_late_is_none(new_job: Maker, clock: FakeClock) -> None:
    """The second live follows within two minutes."""
    job = new_job()
    enter(job, "dead 9V reservoir 0V out-cap 0V")
    clock.wait(121)
    enter(job, "meter 9V")
    assert "not proven dead" in refused(job, "fuse 0.2 r")


def test_a_meter_that_is_off_proves_nothing(new_job: Maker) -> None:
    """7 V where 9 V are known."""
    assert "can't be trusted" in refused(new_job(), "meter 7V 9V")


def test_the_mains_read_on_the_set_prove_the_meter(new_job: Maker) -> None:
    """230 V at the inlet while on is the first live; a reading that the healthy set would not show is none."""
    for reading, proven in (("L to N 231ac", True), ("L to N 140ac", False)):
        job = new_job(f"job-{proven}")
        enter(job, "on", reading, "off")
        answer = job.send("dead reservoir 4V out-cap 3V")
        assert answer["ok"] is proven, answer["refused"]


# ---- what ends it


def test_a_charged_side_is_looked_at_again_after_a_minute_in_one_line(new_job: Maker, clock: FakeClock) -> None:
    """After power the capacitors recover: ohms on their side are refused from the minute on, until they were read once more."""
    job = new_job()
    enter(job, "dead 9V 0.3 0.3", "OL OL", "on", "off", "dead 9V reservoir 4V out-cap 3V", "raw to 0V 5k r")
    clock.wait(61)
    why = refused(job, "raw to 0V 5k r")
    assert "a minute is over" in why and "dead reservoir 0.3V" in why
    card = job.send("raw to 0V 5k r")["card"]  # the refusal brings the card that is due
    assert card["do"].startswith("dead ") and card["wait"] == 0 and set(card["caps"]) == {"reservoir", "out-cap"}
    assert sum(len(w) for w in "dead 4 3") < 10  # what there is to type
    enter(job, "dead 4 3", "raw to 0V 5k r")
    clock.wait(20 * 60)
    enter(job, "raw to 0V 5k r")
    clock.wait(11 * 60)
    assert "not proven dead" in refused(job, "raw to 0V 5k r")


def test_a_set_that_had_no_power_here_needs_no_second_look(new_job: Maker, clock: FakeClock) -> None:
    """It came unpowered: live, dead, live once is all."""
    job = new_job()
    enter(job, "dead 9V 0 0 9V")
    clock.wait(300)
    enter(job, "fuse 0.2 r")


def test_volts_above_ten_seen_after_the_proof_end_it(new_job: Maker) -> None:
    """A capacitor that reads 12 V is not dead, whatever was said before."""
    job = new_job()
    enter(job, "dead 9V 0.3 0.3", "fuse 0.2 r", "reservoir 12V")
    assert "not proven dead" in refused(job, "fuse 0.2 r")


@pytest.mark.parametrize("line", ["on", "off"])
def test_power_and_its_end_are_never_dead(new_job: Maker, line: str) -> None:
    """Switched on, or unplugged once more: every proof is gone."""
    job = new_job()
    enter(job, "dead 9V 0.3 0.3", "fuse 0.2 r", line)
    assert refused(job, "fuse 0.2 r")


@pytest.mark.parametrize("line", ["on", "bench +12 12V 0.3A plus"])
def test_power_that_was_said_and_struck_still_ends_the_proof(new_job: Maker, line: str) -> None:
    """Whoever says that it was on, and then that it wasn't, proves the set dead again."""
    job = new_job()
    enter(job, "dead 9V 0.3 0.3", "OL OL", line)
    assert enter(job, "no")["state"]["power"] == "unknown"
    assert "not proven dead" in refused(job, "fuse 0.2 r")


def test_the_same_again_counts_in_the_state_it_was_taken_in(new_job: Maker) -> None:
    """The lamp that went in between belongs to the repeated reading."""
    job = new_job()
    enter(job, "on", "L to N 230ac", "off", "lamp 60", "on", "same")
    assert [t.lamp for t in job.standing.readings] == [None, 60.0]


def test_a_new_sitting_knows_neither_the_plug_nor_the_meter(new_job: Maker, clock: FakeClock, tmp_path: Path) -> None:
    """After a reload `off` comes first, then the meter again, then the volts."""
    job = new_job()
    enter(job, "dead 9V 0.3 0.3", "OL OL")
    again = Job(tmp_path / "job", kit=job.kit, clock=clock)
    assert again.first()["state"]["power"] == "unknown"
    assert "unknown" in refused(again, "dead 9V reservoir 0.3V out-cap 0.3V")
    enter(again, "off")
    assert "known voltage" in refused(again, "dead reservoir 0.3V out-cap 0.3V")
    assert enter(again, "dead 9V reservoir 0.3V out-cap 0.3V")["state"]["power"] == "dead"
    assert again.standing.named  # what was seen by eye stays seen


# ---- side by side


@pytest.fixture(scope="module")
def printer(tmp_path_factory: pytest.TempPathFactory) -> Callable[[], tuple[Job, FakeClock]]:
    """Opens a job on an isolated supply with a charged mains side, its cold side named and read OL, on and off again."""

    def make() -> tuple[Job, FakeClock]:
        clock = FakeClock()
        job = Job(tmp_path_factory.mktemp("printer") / "job", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=clock)
        job.first()
        enter(job, *PRINTER, "off", "dead 9V 0.3 0.3 0.3 0.3", "OL OL", "on", "off")
        return job, clock

    return make


Printer = Callable[[], tuple[Job, FakeClock]]


def test_a_cold_side_proven_dead_allows_ohms_there_and_only_there(printer: Printer) -> None:
    """The bulk capacitor was not read: nothing on its side, everything on the isolated one."""
    job, _ = printer()
    answer = enter(job, "dead 9V out-cap 4V")
    assert answer["state"]["power"] == "unplugged" and answer["state"]["sides"] == {"hot": "unplugged", "cold": "dead"}
    assert answer["state"]["dead"] == ["out-cap"]
    enter(job, "out to 0V 5k r")
    assert "hot side is unplugged" in refused(job, "fuse 0.2 r")
    assert "bulk-cap" in refused(job, "bulk to hot- 100k r")


def test_a_claimed_side_that_nobody_read_is_no_side(new_job: Maker) -> None:
    """Without L and N to its 0 V the whole set is one side: every capacitor has to be read."""
    job = new_job()
    assert gate_of(job).sides == ("hot",)
    enter(job, "dead 9V 0.3 0.3", "OL OL")
    assert gate_of(job).sides == ("hot", "cold")


def test_a_likely_breach_makes_the_cold_side_hot_again(printer: Printer) -> None:
    """A shorted Y capacitor joins the sides though L and N read OL; a dried reservoir doesn't. Found by what is solved."""
    job, _ = printer()
    table = job._table()
    rows = {(s.row.part, s.row.way): i for i, s in enumerate(table.suspects)}
    joined = breach_rows(table)
    assert joined[rows["y-cap", "short"]] and not joined[rows["bulk-cap", "dried"]] and not joined[0]
    even = np.where(joined, 0.0, 1.0)
    assert isolation(job.standing, table, even / even.sum())
    odds = 0.98 * even / even.sum()
    odds[rows["y-cap", "short"]] = 0.02
    told = isolation(job.standing, table, odds)
    assert isinstance(told, NoGo) and "joins this side" in told.reason
    gate = Gate(job.standing, table, job.kit, odds, 0.0)
    assert gate.sides == ("hot",) and not gate.board().proven_cold


def test_a_part_across_the_gap_that_nobody_named_keeps_the_side_hot(printer: Printer) -> None:
    """The sheet gains a part that reaches across: until it is named by eye the claim does not count."""
    job, _ = printer()
    table, odds = job._table(), np.zeros(len(job._table().suspects))
    odds[0] = 1.0
    assert isolation(job.standing, table, odds)
    fewer = replace(job.standing, named=job.standing.named - {"y-cap"})
    told = isolation(fewer, table, odds)
    assert isinstance(told, NoGo) and "y-cap" in told.reason


# ---- going live


def test_the_mains_side_list_is_said_yes_to_once_a_power_cycle(printer: Printer) -> None:
    """Switched on unasked, a mains-side round waits for the list; `yes` is logged, and gone with the plug."""
    job, _ = printer()
    enter(job, "on")
    gate, table = gate_of(job), job._table()
    condition = gate.condition()
    bulk = next(c for c in table.live(condition).columns if c.red == "bulk" and c.function == "v")
    assert not gate.may_propose(bulk, condition)
    job.advice.card = {"kind": "act", "do": "confirm", "live": "hot", "type": "yes", "confirm": ["..."]}
    enter(job, "yes")
    assert [line.text for line in job.log.lines()][-1] == "yes"
    assert gate_of(job).may_propose(bulk, condition)
    enter(job, "off")
    assert not job.standing.confirmed


def test_a_yes_to_nothing_is_not_logged(new_job: Maker) -> None:
    """Only the going-live list on show takes one."""
    job = new_job()
    before = len(job.log.lines())
    assert job.send("yes")["line"] is None and len(job.log.lines()) == before


def test_switching_nodes_and_volts_past_the_meter_are_never_offered(printer: Printer) -> None:
    """Whatever is confirmed; and with a meter of 300 V the 325 V of the bulk are not offered either."""
    job, _ = printer()
    gate, table = gate_of(job), job._table()
    live = table.live(gate.condition())
    go = {gate.condition().key: True}
    small = replace(gate, kit=replace(job.kit, rating=300.0))
    offered = {c.red for c in (live.columns[i] for i in gate.allowed(live.columns, [gate.condition()], go))}
    fewer = {c.red for c in (live.columns[i] for i in small.allowed(live.columns, [gate.condition()], go))}
    assert "bulk" in offered and "bulk" not in fewer and fewer
    assert not offered & job._table().circuit.switching


# ---- power on


def test_a_fitted_part_wants_the_cold_checks_before_power(new_job: Maker) -> None:
    """The refusal lists the ohms still to be read; read and not low, it may be switched on; low, it may not."""
    job = new_job()
    enter(job, "dead 9V 0.3 0.3", "OL OL", "fit out-cap 100u 35V")
    assert "mains r, reservoir r, out-cap r" in refused(job, "on")
    enter(job, "mains OL r", "reservoir 1M r", "out-cap 2 r")
    assert refused(job, "on").endswith("out-cap r")
    enter(job, "out-cap 1M r")
    assert "cold gate" not in (job.send("on")["refused"] or "")


def test_a_fitted_part_is_no_longer_the_one_that_was_read(new_job: Maker) -> None:
    """A switch read open is the one; once another is in, its reading is the old one's."""
    job = new_job()
    old = enter(job, "dead 9V 0.3 0.3", "OL OL", "switch OL r")
    assert old["suspects"][0]["part"] == "switch" and old["suspects"][0]["odds"] > 0.5
    new = enter(job, "fit switch")
    assert new["nothing_wrong"] > 0.5
    assert all(s["odds"] < 0.3 for s in new["suspects"] if s["part"] == "switch")


def test_a_convicted_part_wants_a_waiver_with_name_and_reason_before_power(new_job: Maker) -> None:
    """Convicted is not cleared: the cause is open until somebody signs for it."""
    job = new_job()
    enter(job, "dead 9V 0.3 0.3", "OL OL", "fuse OL r")
    assert job.advice is not None
    job.advice.card = {"kind": "end", "verdict": "convicted", "parts": ["fuse"]}
    assert "cause of fuse" in refused(job, "on")
    assert "who takes it on" in refused(job, "waive nobody")
    enter(job, "waive A. Person: owner saw the surge")
    assert job.standing.waiver is not None and job.standing.waiver.stands
    job.advice.card = {"kind": "end", "verdict": "convicted", "parts": ["fuse"]}
    assert "cause of" not in (job.send("on")["refused"] or "")


# ---- bench supply


def odds_of(job: Job, part: str, way: str) -> float:
    """Odds of one explanation now."""
    assert job.advice is not None and job.advice.odds is not None and job.table is not None
    return float(job.advice.odds[next(i for i, x in enumerate(job.table.suspects) if (x.row.part, x.row.way) == (part, way))])


def test_the_bench_supply_is_decided_and_its_readings_weigh(new_job: Maker) -> None:
    """Refused too high, too strong, the wrong way round and without a pole; taken, what is read on the fed and on the dead side counts."""
    job = new_job()
    assert "not proven dead" in refused(job, "bench +12 12V 0.3A plus")
    enter(job, "dead 9V 0.3 0.3", "OL OL")
    assert "into a rail of" in refused(job, "bench +12 15V 0.3A plus")
    assert "weakest" in refused(job, "bench +12 12V 3A plus")
    assert "wrong way round" in refused(job, "bench +12 12V 0.3A minus")
    assert "plus goes on +12" in refused(job, "bench +12 12V 0.3A")
    assert "no rail" in refused(job, "bench 0V 12V 0.3A plus")
    enter(job, "unplug load")  # it would hold the rail down at the limit
    answer = enter(job, "bench +12 12V 0.3A plus")
    assert answer["state"]["power"] == "bench" and not any("not weighed" in w for w in answer["warn"])
    before = odds_of(job, "regulator", "through")
    enter(job, "raw 11.9V")  # nothing flows back through a good regulator
    assert odds_of(job, "regulator", "through") > max(10 * before, 0.5)
    assert "bench" in refused(job, "on")
    assert "cold side is bench" in refused(job, "raw to 0V 5k r")
    before = odds_of(job, "fuse", "open")
    enter(job, "fuse OL r")  # the mains side stays dead: ohms there
    assert odds_of(job, "fuse", "open") > 10 * before
    answer = enter(job, "bench none")
    assert answer["state"]["sides"]["cold"] == "unplugged" and "not proven dead" in refused(job, "raw to 0V 5k r")
    assert "no bench supply" in refused(job, "bench none")


def test_taking_off_a_supply_that_is_not_there_never_unplugs_a_set_that_is_on(new_job: Maker) -> None:
    """`bench none` while on is refused, and a log that holds it is read so too."""
    job = new_job()
    enter(job, "on")
    assert "no bench supply" in refused(job, "bench none")
    job.log.append("bench none")
    job.think(())
    assert job.standing.power == "on"


def test_the_weakest_part_sets_the_amps(printer: Printer) -> None:
    """A resistor that the volts alone would burn counts with the amps of its watts, and is named."""
    job, _ = printer()
    amps, name = weakest_amps(replace(gate_of(job), claimed=True), "cold", 24.0)
    assert name == "opto-bias" and amps == pytest.approx((0.25 / 1000.0) ** 0.5)


def test_the_same_again_is_allowed_no_more_than_the_reading_itself(new_job: Maker) -> None:
    """`same` after the set was switched on would be ohms on a live set."""
    job = new_job()
    assert "nothing was read" in refused(job, "same")
    enter(job, "dead 9V 0.3 0.3", "fuse 0.2 r", "same", "on")
    assert "not proven dead" in refused(job, "same")


# ---- legs lifted


def test_a_leg_lifted_after_the_proof_takes_nothing_back(new_job: Maker) -> None:
    """in-cap lay straight across the reservoir when that was read: it was read with it."""
    job = new_job()
    enter(job, "dead 9V reservoir 0.3V out-cap 0.3V")
    assert enter(job, "lift in-cap.a")["state"]["power"] == "dead"


def test_a_capacitor_lifted_while_charged_is_read_by_itself(new_job: Maker) -> None:
    """With its leg up the reservoir's volts say nothing of it; and each one's own volts are taken for each."""
    job = new_job()
    enter(job, "meter 9V", "on", "raw to 0V 17V", "off", "lift reservoir.+")
    caps = job.advice.card["caps"] if job.advice is not None else []
    assert {"reservoir", "in-cap"} <= set(caps) or "in-cap" not in {c.name for c in gate_of(job).heavy}
    why = refused(job, "dead 9V out-cap 0.3V")
    assert "reservoir" in why
    assert enter(job, "dead 9V " + " ".join(f"{c} 0.3V" for c in caps))["state"]["power"] == "dead"
