"""A job whose fault comes and goes: marks, the meter that waits, provoking it within what safety lets, good starts in a row."""

from __future__ import annotations

from collections.abc import Callable

from halfsplit.jobs.job import Job
from job_support import THREE, sure

Maker = Callable[..., Job]
SOMETIMES = (THREE[0], "symptom: sometimes dead", THREE[2], "off")
DEAD = "dead 9V reservoir 0.3V out-cap 0.3V"


def part(answer: dict, ref: str) -> float:
    return sum(s["odds"] for s in answer["suspects"] if s["part"] == ref)


def opened(job: Job, ref: str) -> float:
    assert job.table is not None and job.advice is not None and job.advice.odds is not None
    rows = [(s.row.part, s.row.way) for s in job.table.suspects]
    return float(job.advice.odds[rows.index((ref, "open"))])


def test_without_complaint_and_marks_no_row_comes_and_goes(new_job: Maker) -> None:
    """A plain job has no such rows and no such key in its answers; the first mark brings them."""
    job = new_job()
    sure(job, DEAD)
    answer = sure(job, "OL OL")
    assert "comes_and_goes" not in answer and "mark" not in answer["state"]
    assert "comes_and_goes" in sure(job, "ok") and job.standing.mark == "ok" and "ok" in job.prompt()
    assert "comes_and_goes" not in sure(job, "unmarked")


def test_good_readings_marked_ok_clear_no_contact_and_the_bad_one_finds_it(new_job: Maker) -> None:
    """The same volts in a plain job clear the switch; marked ok they leave it, and no volts behind it, marked bad, bring it up."""
    plain = new_job("plain")
    sure(plain, DEAD, "OL OL", "on", "+12 12.0", "raw 17.5")
    assert opened(plain, "switch") < 0.002
    job = new_job("some", SOMETIMES)
    good = sure(job, DEAD, "OL OL", "ok", "on", "+12 12.0", "raw 17.5")
    assert opened(job, "switch") > 0.1 and not any("switch" in c["parts"] for c in good["cleared"])
    bad = sure(job, "bad: raw 0.0", "bad: switch 230ac")
    assert part(bad, "switch") > 0.9 and bad["comes_and_goes"] > 0.9
    assert [line.text for line in job.log.lines()][-1] == "bad: switch 230ac"


def test_a_fault_that_does_not_show_gets_a_meter_that_waits(new_job: Maker) -> None:
    """Once nothing is worth reading, the card leaves meters clipped on the isolated side; a value typed with `bad:` answers it
    and stays marked in the log."""
    job = new_job("w", SOMETIMES)
    answer = sure(job, DEAD, "OL OL", "ok", "on", "+12 12.0", "raw 17.5")
    assert answer["card"].get("watch"), answer["card"]
    if answer["card"]["kind"] == "act":
        assert "leave clipped" in answer["card"]["text"]
        assert any("clipped with the plug out" in c for c in answer["card"]["confirm"])
        answer = sure(job, *([answer["card"]["type"]]))
    card = answer["card"]
    assert card["kind"] == "round" and card["watch"] and "MIN/MAX" in card["text"] and card["state"] == "on"
    assert 1 <= len(card["probes"]) <= 2 and all(p["type"].startswith("bad: ") for p in card["probes"])
    first = card["probes"][0]
    answer = sure(job, "bad: 0.0" if first["function"] == "v" else "bad: 0.0ac")
    assert [line.text for line in job.log.lines()][-1].startswith(f"bad: {first['where']}")
    assert answer["comes_and_goes"] > 0.5


def test_a_meter_never_waits_where_it_may_not_be_clipped(new_job: Maker) -> None:
    """Every lead of the watch card passes the gate of a live reading; without an isolation transformer none is on the mains side."""
    job = new_job("x", SOMETIMES)
    job.kit = type(job.kit)(**{**job.kit.__dict__, "isolation": None})
    answer = sure(job, DEAD, "OL OL", "ok", "on", "+12 12.0", "raw 17.5")
    card = answer["card"]
    assert card.get("watch") and card["kind"] == "round"
    gate = job._gate()
    assert all(gate.side_of(n) == "cold" for p in card["probes"] for n in (p["red"], p["black"]))
    assert all(gate.may_read(p["function"], p["red"], p["black"], gate.condition()) for p in card["probes"])


def test_good_starts_in_a_row_are_said_as_odds(new_job: Maker) -> None:
    """cycles 20 ok: said in the answer, and the odds fall; more starts, lower; a bad reading begins the row anew."""
    job = new_job("c", SOMETIMES)
    before = sure(job, DEAD, "OL OL", "ok", "on", "+12 12.0")["comes_and_goes"]
    answer = sure(job, "cycles 20 ok")
    assert f"after 20 good starts the odds that it still comes and goes: {100 * answer['comes_and_goes']:.0f} %" in answer["warn"]
    more = sure(job, "cycles 80 ok")
    assert more["comes_and_goes"] < answer["comes_and_goes"] < before
    assert any("after 100 good starts" in w for w in more["warn"])
    assert not any("good start" in w for w in sure(job, "bad: +12 0.0")["warn"])
    for line in ("cycles", "cycles many ok", "cycles 0 ok", "cycles 20 bad"):
        assert not job.send(line)["ok"], line


def test_tap_flex_warm_and_cold_only_where_safety_lets(new_job: Maker) -> None:
    """Not on a charge, no board flexed live, no spray and no rod on the mains side without the going-live list; dead: all."""
    job = new_job("t", SOMETIMES)
    assert "not proven dead" in job.send("flex transformer same")["refused"]
    sure(job, DEAD, "OL OL", "flex transformer same", "cold regulator same", "tap switch same")
    sure(job, "on")
    logged = len(job.log.lines())
    for line, why in (
        ("flex regulator changed", "not flexed"),
        ("cold bridge changed", "isolated"),
        ("cold switch changed", "325 V"),
        ("tap switch changed", "going-live list"),
        ("warm fuse changed", "It can kill"),
    ):
        refused = job.send(line)["refused"]
        if line == "cold bridge changed":
            assert refused is None  # all on the proven isolated side
            logged += 1
            continue
        assert refused is not None and why in refused, (line, refused)
    assert len(job.log.lines()) == logged
    sure(job, "tap regulator same")
    for line in ("tap", "tap switch", "tap switch maybe", "tap Q99 changed"):
        assert not job.send(line)["ok"], line


def test_a_tap_that_changes_it_moves_the_odds_and_so_does_after_tap(new_job: Maker) -> None:
    """tap changed brings the part and its neighbours up; `after tap` in a reading under another mark than the last says the same."""
    job = new_job("u", SOMETIMES)
    before = sure(job, DEAD, "OL OL")
    tapped = sure(job, "tap switch changed")
    assert part(tapped, "switch") > 2 * part(before, "switch")
    other = new_job("v", SOMETIMES)
    sure(other, DEAD, "OL OL", "on", "ok: +12 12.0")
    said = part(other.send("suspects"), "regulator")
    assert part(sure(other, "ok: +12 12.0 after tap regulator"), "regulator") < said
    tapped = sure(new_job("y", SOMETIMES), DEAD, "OL OL", "on", "ok: +12 12.0", "bad: +12 0.0 after tap regulator")
    untapped = sure(new_job("z", SOMETIMES), DEAD, "OL OL", "on", "ok: +12 12.0", "bad: +12 0.0")
    assert part(tapped, "regulator") > 1.5 * part(untapped, "regulator")


def test_what_is_only_said_never_makes_a_fault_lighter_for_the_gates(new_job: Maker) -> None:
    """Marks, a tap without change and good starts: each row's odds in the safety decisions are no less than its share without them."""
    job = new_job("s", SOMETIMES)
    sure(job, DEAD, "OL OL")
    assert job.advice is not None and job.advice.odds is not None
    before = job.advice.odds.copy()
    sure(job, "tap switch same", "cycles 200 ok")
    assert (job.advice.odds > before - 1e-9).all()


def test_after_fitting_the_row_of_good_starts_begins_anew(new_job: Maker) -> None:
    """Found and fitted, what was read before speaks of the old switch; good starts then speak for the repair."""
    job = new_job("f", SOMETIMES)
    found = sure(job, DEAD, "OL OL", "on", "ok: +12 12.0", "bad: raw 0.0", "bad: switch 230ac", "cycles 3 ok")
    assert any("after 3 good starts" in w for w in found["warn"])
    fitted = sure(job, "off", "fit switch")
    assert fitted["nothing_wrong"] > 0.5 and not any("good start" in w for w in fitted["warn"])
    quiet = sure(job, "cycles 30 ok")
    assert quiet["nothing_wrong"] > fitted["nothing_wrong"] and quiet["comes_and_goes"] < fitted["comes_and_goes"]
    assert any("after 30 good starts" in w for w in quiet["warn"])
