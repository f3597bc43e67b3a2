"""The sheet of a job edited as a whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from bench_support import FUSED, the_kit
from halfsplit.circuit.starting import STARTS
from halfsplit.errors import InputError, Refused, SheetError
from halfsplit.jobs.job import Job
from halfsplit.jobs.sheet_edit import check_text, edits, sheet_lines

EXAMPLES = Path(__file__).parents[2] / "examples"
SHEETS = sorted(p.stem for p in EXAMPLES.glob("*.yaml") if p.stem != "bench-kit")


@pytest.fixture
def begun(tmp_path: Path) -> Callable[[str], Job]:
    """A job from a sheet's text."""

    def make(text: str) -> Job:
        job = Job(tmp_path / "a.job", kit=the_kit())
        job.begin_from_sheet(text.encode(), "sheet")
        return job

    return make


def logged(job: Job) -> list[str]:
    return [line.text for line in job.log.lines()]


def edits_of(job: Job, text: str) -> list[str]:
    return edits(sheet_lines(job.log.lines(), job.standing.names), job.standing.circuit, text)


def same_board(job: Job, text: str) -> bool:
    """Whether the job has the circuit of the text, whatever order the lines came in."""
    job.standing = job._stand()
    mine, wanted = job.standing.circuit, check_text(text)
    assert mine is not None and not job.standing.lost, job.standing.lost
    ours, theirs = ({p.ref: replace(p, words="") for p in c.parts} for c in (mine, wanted))
    return ours == theirs and set(mine.nets) == set(wanted.nets) and mine.cold_claims == wanted.cold_claims


@pytest.mark.parametrize("name", SHEETS)
def test_an_unedited_example_gives_no_edit(begun: Callable[[str], Job], name: str) -> None:
    """Neither its own file nor the text that the job gives; and the text is the same circuit."""
    source = (EXAMPLES / f"{name}.yaml").read_text(encoding="utf-8")
    job = begun(source)
    text = job.sheet_text()
    assert edits_of(job, text) == [] and edits_of(job, source) == []
    assert job.take_sheet(text, "k3f9a27c") == 0 and not job.log.has("k3f9a27c")
    assert same_board(job, text)


@pytest.mark.parametrize("start", sorted(STARTS))
def test_an_unedited_starting_sheet_gives_no_edit(tmp_path: Path, start: str) -> None:
    """As typed by its own example, also where that has a colon of its own; the text is a sheet with the same circuit."""
    job = Job(tmp_path / "a.job", kit=the_kit())
    job.log.append_all(["unit: radio, 230V 50Hz, class II, 60W", "symptom: dead; hums", f"start: {STARTS[start].example}"])
    job = Job(tmp_path / "a.job", kit=the_kit())
    text = job.sheet_text()
    assert edits_of(job, text) == [] and same_board(job, text)


def test_lines_typed_one_by_one_give_no_edit(tmp_path: Path) -> None:
    """Designators named in passing, several things in one line, uneven blanks, a struck line."""
    job = Job(tmp_path / "a.job", kit=the_kit())
    job.first()
    for line in ("unit: radio,  230V 50Hz, class II, 25W", "symptom: dead ; hums", "start: linear 12V 1A"):
        job.think(job.take(line))
    for line in ("C5 reservoir 1000u 35V", "parts: R8 resistor 360R, a=+12 b=x1 ;  R9 resistor 1k, a=x1 b=0V", "way: +12  R7(1k)  0V", "no"):
        job.think(job.take(line))
    assert edits_of(job, job.sheet_text()) == []
    assert "R7" not in job.sheet_text() and "C5" in job.sheet_text() and "R9" in job.sheet_text()


def test_a_changed_value_takes_the_place_of_the_old_one(begun: Callable[[str], Job]) -> None:
    """The old line is struck, the new one entered; nothing else."""
    job = begun(FUSED)
    new = FUSED.replace("2k2", "4k7")
    assert job.take_sheet(new) == 2
    assert logged(job)[-2:] == ["no 4", "way: mid R2(4k7) N"]
    assert same_board(job, new)


def test_an_added_way_is_one_line(begun: Callable[[str], Job]) -> None:
    """And an added symptom takes the place of the whole line."""
    job = begun(FUSED)
    new = FUSED + "- mid C1(100n) N\n"
    assert job.take_sheet(new) == 1 and logged(job)[-1] == "way: mid C1(100n) N" and same_board(job, new)


def test_a_removed_part_that_protects_nothing_is_struck(begun: Callable[[str], Job]) -> None:
    """By its number."""
    job = begun(FUSED)
    new = FUSED.replace("- mid R2(2k2) N\n", "")
    assert job.take_sheet(new) == 1 and logged(job)[-1] == "no 4" and same_board(job, new)


def test_a_changed_symptom_is_entered_anew(begun: Callable[[str], Job]) -> None:
    """Later lines take the place of earlier ones; one that was taken out says `not said`."""
    job = begun(FUSED)
    assert job.take_sheet(FUSED.replace("dead", "dead; hums")) == 1 and logged(job)[-1] == "symptom: dead; hums"
    assert job.take_sheet(FUSED.replace("symptom: dead\n", "")) == 1 and logged(job)[-1] == "symptom: not said"
    assert edits_of(job, job.sheet_text()) == []


def test_one_of_several_parts_in_a_line_is_changed(begun: Callable[[str], Job]) -> None:
    """The others stand on lines of their own then; the board is that of the text."""
    job = begun(FUSED + "parts: R5 resistor 1k, a=mid b=x; R6 resistor 2k, a=x b=N\n")
    new = FUSED + "parts:\n- R5 resistor 1k, a=mid b=x\n- R6 resistor 3k, a=x b=N\n"
    assert job.take_sheet(new, "k3f9a27c") > 0
    assert same_board(job, new) and edits_of(job, new) == [] and job.log.has("k3f9a27c")


@pytest.mark.parametrize(
    ("old", "new", "line", "column"),
    [("2k2", "2q2", 5, 7), ("symptom:", "symtom:", 2, 1), ("N\n- mid", "N\n\t- mid", 5, 1), ("R2(2k2)", "R2(2k2", 5, 9)],
)
def test_a_fault_is_named_by_line_and_column_of_the_text(begun: Callable[[str], Job], old: str, new: str, line: int, column: int) -> None:
    """And nothing is logged."""
    job = begun(FUSED)
    before = logged(job)
    with pytest.raises(SheetError) as bad:
        job.take_sheet(FUSED.replace(old, new))
    assert (bad.value.line, bad.value.column) == (line, column)
    assert logged(job) == before


BYPASS = FUSED.replace("L F1(T1A) mid R1", "L R1").replace("mid R2", "L R2")


def test_a_protector_stays_on_the_sheet(begun: Callable[[str], Job]) -> None:
    """Left out of the text, or struck by its number: refused by name, no waiver, nothing logged."""
    job = begun(FUSED)
    job.first()
    before = logged(job)
    with pytest.raises(Refused, match="F1"):
        job.take_sheet(BYPASS, "k3f9a27c")
    for line in ("no 3", "no 3 "):
        with pytest.raises(Refused, match="F1"):
            job.take(line)
    assert logged(job) == before and not job.log.has("k3f9a27c")


def test_a_bare_strike_takes_no_protector_off_either(begun: Callable[[str], Job]) -> None:
    """The last line said is the one with the fuse."""
    job = begun(FUSED.replace("- L F1(T1A) mid R1(1k) N\n- mid R2(2k2) N\n", "- mid R2(2k2) N\n- L F1(T1A) mid R1(1k) N\n"))
    job.first()
    with pytest.raises(Refused, match="F1"):
        job.take("no")


def test_striking_a_strike_takes_no_protector_off(begun: Callable[[str], Job]) -> None:
    """A fuse entered after a strike of the line without it was itself struck: neither way loses it."""
    job = begun(FUSED)
    job.first()
    job.think(job.take("no 4"))
    job.think(job.take("way: mid F2(T2A) x R2(2k2) N"))
    with pytest.raises(Refused, match="F2"):
        job.take("no 6")
    assert "no 6" not in logged(job)


def test_a_protector_may_be_named_anew_between_the_same_nets(begun: Callable[[str], Job]) -> None:
    """Someone reads the designator off the board."""
    job = begun(FUSED)
    new = FUSED.replace("F1(T1A)", "F101(T1A)")
    assert job.take_sheet(new) > 0 and same_board(job, new)
    assert job.standing.circuit is not None and [p.ref for p in job.standing.circuit.parts if p.family == "fuse"] == ["F101"]


def test_what_the_trade_refuses_is_refused_in_an_edit_too(begun: Callable[[str], Job]) -> None:
    """Nothing is logged."""
    job = begun(FUSED)
    before = logged(job)
    with pytest.raises(InputError, match="microwave"):
        job.take_sheet(FUSED.replace("night light", "microwave oven"))
    assert logged(job) == before


@pytest.mark.parametrize("name", SHEETS)
def test_a_job_edited_into_another_sheet_has_that_circuit(begun: Callable[[str], Job], name: str) -> None:
    """Everything of the example comes in, the fuse of before stays, and after it there is nothing left to edit."""
    job = begun(FUSED.replace("ways:\n- L F1(T1A) mid R1(1k) N\n- mid R2(2k2) N\n", "ways:\n- L R1(1k) N\n"))
    new = (EXAMPLES / f"{name}.yaml").read_text(encoding="utf-8")
    assert job.take_sheet(new, "k3f9a27c") > 3
    assert same_board(job, new) and edits_of(job, new) == [] == edits_of(job, job.sheet_text())


def test_a_new_sitting_voids_the_proof_of_dead(begun: Callable[[str], Job]) -> None:
    """What was read stands; how the set stands nobody knows, until it is proven again."""
    job = begun(FUSED)
    job.first()
    for line in ("off", "dead 9V mains 0.3V", "R1 1k"):
        answer = job.send(line)
        assert answer["ok"], answer["refused"]
    assert answer["state"]["power"] == "dead"
    answer = job.begin_new_sitting()
    assert answer["state"]["power"] == "unknown" and logged(job)[-1].startswith("R1 1k")
    assert not job.send("R2 2k2 r")["ok"]
    for line in ("off", "dead 9V mains 0.3V"):
        answer = job.send(line)
    assert answer["state"]["power"] == "dead" and job.send("R2 2k2 r")["ok"]
