"""Boards of the score bench: the same for the same seed, severities drawable, sheets that differ from the board as they should."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from perf.isolation import run
from perf.isolation.case import Case, Flaw, start_lines
from perf.isolation.doubles import collateral, masked, surge
from perf.isolation.draw import TURN, severity
from perf.isolation.fingers import SORTS, Planned, PlannedHands
from perf.isolation.kept import KeptBoard, Memory
from perf.isolation.kinds import DRAWS, draw_case, nets_between
from perf.isolation.pool import EVERY, FULL, STARTS, read_back
from perf.isolation.run import Plan, done_already, run_batch
from perf.isolation.sitting import Shy
from perf.isolation.twist import falsified
from perf.isolation.writer import Retouch, lines_of, quantity, traced

import judged
from bench import Bench
from costs import Clock
from fake_bench import FakeBoard, chain_circuit
from halfsplit.diagnosis.outlook import Column, Outlook, Row
from halfsplit.units import parse_quantity
from hands import Probe
from judge.fitted import fit, spoil, with_defaults
from judge.spice import JudgeFailed
from meter import draw_meter

CHAIN = next(e for e in STARTS if e.group == "series chain")


def test_a_severity_can_be_set_and_runs_from_the_first_number_of_the_range_to_the_second() -> None:
    """docs/families.md: electrolytic short 0.05..5 ohm, log; heater low x 0.15..0.7, log."""
    cap = next(p for p in STARTS[0].circuit.parts if p.family == "electrolytic")
    made = fit(cap, 1, "none")
    assert [spoil(made, "short", 1, u).across[0][2] for u in (0.0, 0.5, 1.0)] == pytest.approx([0.05, 0.5, 5.0])
    board = judged.make_drawn(CHAIN.circuit, [(("heater", "low"), 0.25)], 3, "none")
    heater = CHAIN.circuit.part("heater")
    assert board._made["heater"].values["ohms"] == pytest.approx(0.15 * (0.7 / 0.15) ** 0.25 * with_defaults(heater)["ohms"])


def test_without_a_severity_the_board_is_the_one_it_always_was() -> None:
    plain = judged.make(CHAIN.circuit, ("heater", "low"), 7)
    drawn = judged.make_drawn(CHAIN.circuit, [(("heater", "low"), None)], 7)
    assert plain._made == drawn._made
    assert judged.make_drawn(CHAIN.circuit, [], 7)._made == judged.make(CHAIN.circuit, None, 7)._made


def test_two_faults_sit_in_one_board() -> None:
    board = judged.make_drawn(CHAIN.circuit, [(("heater", "low"), 0.5), (("fuse", "open"), 0.5)], 7, "none")
    healthy = judged.make_drawn(CHAIN.circuit, [], 7, "none")
    assert {r for r, made in board._made.items() if made != healthy._made[r]} == {"heater", "fuse"}


def test_the_wide_spread_is_wider_than_the_judges_own() -> None:
    part = CHAIN.circuit.part("heater")
    marked = with_defaults(part)["ohms"]

    def width(spread: str) -> float:
        return float(np.std([np.log(fit(part, seed, spread).values["ohms"] / marked) for seed in range(400)]))

    assert 1.2 * width("judge") < width("wide") < 2.2 * width("judge")


def test_severities_are_not_even() -> None:
    """Even ones would have a quarter of them in the outer eighths; these have clearly more."""
    rng = np.random.default_rng(1)
    drawn = np.array([severity(rng) for _ in range(3000)])
    assert 0.0 <= drawn.min() and drawn.max() <= 1.0
    assert ((drawn < 0.125) | (drawn > 0.875)).mean() > 0.29


@pytest.mark.parametrize("entry", FULL, ids=lambda e: e.name)
def test_a_written_sheet_is_read_back_as_the_same_circuit(entry) -> None:  # type: ignore[no-untyped-def]
    was = traced(entry.circuit) if entry.unit is not None else entry.circuit
    back = entry.full
    assert {p.ref: (p.family, dict(p.pins)) for p in back.parts} == {p.ref: (p.family, dict(p.pins)) for p in was.parts}
    for part in was.parts:
        assert with_defaults(back.part(part.ref)) == pytest.approx(with_defaults(part), rel=1e-4)
    assert dict(back.grounds) == dict(was.grounds)
    assert {k: dict(v) for k, v in back.controls.items()} == {k: dict(v) for k, v in was.controls.items()}


@pytest.mark.parametrize(("value", "unit"), [(4700.0, "ohm"), (0.27, "ohm"), (1e6, "ohm"), (6.8e-7, "F"), (2.2e-3, "F"), (0.16, "A"), (230.0, "V")])
def test_quantities_are_written_as_the_tool_reads_them(value: float, unit: str) -> None:
    got = parse_quantity(quantity(value, unit))
    assert (got.value, got.unit) == (pytest.approx(value), unit)


def test_a_retouched_sheet_lacks_the_part_joins_the_nets_and_marks_the_guess() -> None:
    circuit = next(e for e in FULL if e.name == "dosing_controller").full
    left = read_back(lines_of(circuit, "dead", Retouch(leave_out=frozenset({"C2"}))))
    assert "C2" not in left.names and "C1" in left.names
    joined = read_back(lines_of(circuit, "dead", Retouch(leave_out=frozenset({"F1"}), join={"live": "L"})))
    assert "live" not in joined.nets and joined.part("T1").pins["p1"] == "L"
    guessed = read_back(lines_of(circuit, "dead", Retouch(unknown={("R1", "ohms"): 2200.0}))).part("R1")
    assert guessed.values["ohms"] == pytest.approx(2200.0) and "ohms" in guessed.doubts


def test_every_kind_of_the_turn_can_be_drawn_and_every_circuit_shows_what_it_does() -> None:
    assert set(TURN) | {"other-start", "other-single"} == set(DRAWS)
    assert len({e.name for e in EVERY}) == len(EVERY) >= 18


def test_pairs_of_faults_are_of_two_parts_and_a_hidden_short_is_behind_what_hides_it() -> None:
    circuit = next(e for e in STARTS if e.group == "flyback").circuit
    for some in (collateral(circuit), surge(circuit), masked(circuit)):
        assert some and all(a[0] != b[0] for a, b in some)
    assert (("switch", "short"), ("sense-R", "open")) in collateral(circuit)
    assert (("bulk-cap", "short"), ("fuse", "open")) in masked(circuit)


def test_nets_of_another_size_are_found_by_the_pins_that_sit_on_them() -> None:
    his, board = STARTS[6].circuit, STARTS[8].circuit
    found = nets_between(his, board)
    assert found["+12"] == ("+15",)
    assert found["live"] == ("live",)


# --- hands ---------------------------------------------------------------------------------------------------------------


def planned(sort: str, at: int) -> PlannedHands:
    bench = Bench(chain_circuit(), FakeBoard(chain_circuit()))  # type: ignore[arg-type]
    rng = np.random.default_rng(3)
    return PlannedHands(bench, Clock(), draw_meter(rng), rng, Planned(sort, at))


@pytest.mark.parametrize("sort", ["no contact", "prefix", "neighbour"])
def test_exactly_one_slip_is_made_at_the_planned_reading_or_the_next_that_it_can_spoil(sort: str) -> None:
    hands = planned(sort, 1)
    taken = [hands.take(Probe("r", "tap", "N", "tap")) for _ in range(6)]
    assert [t.slip for t in taken] == [None, sort, None, None, None, None]
    assert len(hands.slipped) == 1


def test_mains_off_lasts_until_it_is_looked_at_again() -> None:
    hands = planned("mains off", 0)
    hands.bench.switch_on()
    first = hands.take(Probe("ac", "live", "N", "live"))
    again = hands.take(Probe("ac", "live", "N", "live"), careful=True)
    assert abs(first.value) < 0.1 and first.slip == "mains off"
    assert again.value > 200.0 and again.slip is None
    assert hands.take(Probe("ac", "live", "N", "live")).value > 200.0


def test_every_sort_of_slip_is_known_to_the_hands() -> None:
    for sort in SORTS:
        planned(sort, 0).take(Probe("r", "tap", "N", "tap"))


# --- memory, table, batch ------------------------------------------------------------------------------------------------


def test_the_memory_asks_once_keeps_failures_and_survives_a_killed_write(tmp_path: Path) -> None:
    asked: list[int] = []

    def ask() -> float:
        asked.append(1)
        return float("inf")

    def fail() -> float:
        asked.append(1)
        raise JudgeFailed("no convergence")

    memory = Memory(tmp_path, "b")
    assert memory.get("x", ask) == memory.get("x", ask) == float("inf")
    with pytest.raises(JudgeFailed, match="convergence"):
        memory.get("y", fail)
    with (tmp_path / "b.jsonl").open("a", encoding="utf-8") as stream:
        stream.write('["z", 1')
    later = Memory(tmp_path, "b")
    assert later.get("x", ask) == float("inf")
    with pytest.raises(JudgeFailed, match="convergence"):
        later.get("y", ask)
    assert len(asked) == 2


def test_a_kept_board_reads_as_the_judges_and_asks_nothing_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    faults = [(("heater", "low"), 0.5)]
    first = KeptBoard(CHAIN.circuit, faults, 3, "wide", tmp_path)
    plain = judged.make_drawn(CHAIN.circuit, faults, 3, "wide")
    want = float(plain.cold("L", "N", "r"))
    assert first.cold("L", "N", "r") == want
    first.lift("heater", "a")
    lifted = first.cold("L", "N", "r")
    assert lifted != want
    monkeypatch.setattr("perf.isolation.kept.make_drawn", lambda *a: pytest.fail("the simulator was asked again"))
    again = KeptBoard(CHAIN.circuit, faults, 3, "wide", tmp_path)
    assert again.cold("L", "N", "r") == want
    again.lift("heater", "a")
    assert again.cold("L", "N", "r") == lifted
    again.refit("heater")
    assert again.cold("L", "N", "r") == want


def test_a_falsified_table_moves_moved_cells_one_by_one_and_the_others_together() -> None:
    value = np.full((40, 2, 3), 10.0)
    value[20:, 0] = 5.0
    value[39, 1] = np.inf
    columns = (Column("a", "v", "x", "y", "x", "on"), Column("b", "r", "x", "y", "x", "dead"))
    rows = tuple(Row(f"R{i}" if i else "", "open", 1.0) for i in range(40))
    plain = Outlook(rows, columns, value, np.zeros((40, 2), bool))
    got = falsified(plain, 5).value
    assert np.unique(got[:20, 0]).size == 1 and got[0, 0, 0] != 10.0
    assert np.unique(got[20:, 0, 0]).size == 20
    assert 0.004 < float(np.median(np.abs(got[20:, 0] / 5.0 - 1.0))) < 0.02  # 1.2 % and 20 mV of 5 V
    assert np.isinf(got[39, 1]).all()
    assert (falsified(plain, 5).value == got).all() and (falsified(plain, 6).value != got).any()


def line_of(task: tuple[int, Plan]) -> dict[str, object]:
    return {"index": task[0], "kind": "single", "failed": "made up", "error": "", "seconds": 0.0}


def test_a_killed_run_goes_on_where_it_was(tmp_path: Path) -> None:
    plan = Plan(1, tmp_path)
    run_batch(2, plan, 1, line_of, tell=lambda text: None)
    with plan.file.open("a", encoding="utf-8") as stream:
        stream.write('{"index": 2, "ki')
    asked: list[int] = []

    def job(task: tuple[int, Plan]) -> dict[str, object]:
        asked.append(task[0])
        return line_of(task)

    lines = run_batch(4, plan, 1, job, tell=lambda text: None)
    assert asked == [2, 3]
    assert [x["index"] for x in lines] == [0, 1, 2, 3]
    assert [x["index"] for x in done_already(plan.file)] == [0, 1, 2, 3]


def _small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("perf.isolation.draw.EVERY", (CHAIN,))


def test_the_same_seed_gives_the_same_case_and_another_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _small(monkeypatch)
    one, two = (draw_case(0, 9, tmp_path, ("single",)) for _ in range(2))
    assert one == two
    assert draw_case(0, 10, tmp_path, ("single",)) != one


def test_two_boards_end_to_end_are_kept_and_reported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _small(monkeypatch)
    lines = run_batch(2, Plan(9, tmp_path, ("single", "healthy"), groups=False), 1, tell=lambda text: None)
    assert [x["error"] for x in lines] == ["", ""] and [x["failed"] for x in lines] == ["", ""]
    assert lines[0]["flaws"] and lines[0]["root"] == lines[0]["flaws"][0][0] and lines[1]["root"] == ""
    assert all(len(x["claims"]) >= 2 and x["readings"] > 0 and not x["violations"] for x in lines)
    prior, last = lines[0]["claims"][0][1], lines[0]["claims"][-1][1]
    assert last[lines[0]["root"]] > prior.get(lines[0]["root"], 0.0)
    report = (tmp_path / "isolation.md").read_text(encoding="utf-8")
    assert "| single | 1 |" in report and "| healthy | 1 |" in report
    assert json.loads((tmp_path / "isolation.jsonl").read_text(encoding="utf-8").splitlines()[0])["kind"] == "single"


def test_an_unknown_rival_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with pytest.raises(SystemExit):
        run.main(["1", "--out", str(tmp_path), "--rivals", "crystal-ball"])
    assert "crystal-ball" in capsys.readouterr().err


def test_truth_of_a_part_that_is_not_drawn() -> None:
    assert CHAIN.unit is not None
    lines = start_lines(CHAIN.unit, "no heat", CHAIN.start)
    made: Callable[..., Case] = lambda **more: Case(0, "missing-part", "x", "", lines, lines, "no heat", (Flaw("fuse", "open", 0.5),), 1, **more)  # noqa: E731
    hidden = made(undrawn=("fuse",))
    assert hidden.root == "?" and hidden.true_names == {"?"} and hidden.places == set(hidden.circuit.part("fuse").pins.values())
    assert made().root == "fuse" and made().true_names == {"fuse"}


def test_what_a_fault_that_comes_and_goes_left_on_the_capacitors_stays_when_it_goes(tmp_path: Path) -> None:
    """The charge is that of the state which ran last; legs are lifted on both."""
    entry = next(e for e in STARTS if e.group == "linear")
    both = Shy(*(KeptBoard(entry.circuit, f, 3, "wide", tmp_path) for f in ([(("regulator", "no-output"), 0.5)], [])))
    both.live()
    held = both.charge("reservoir", 0.5)
    both.showing = False
    assert held > 5.0 and both.charge("reservoir", 0.5) == held
    both.lift("reservoir", "+")
    assert both.bad.lifted == both.good.lifted == {("reservoir", "+")}
