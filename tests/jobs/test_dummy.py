"""A dummy load in place of a load, `dummy 56R 10W fan`: what is said, what is refused, what it reads.

Common practice: 300 ohm 25 W in place of an LED string at 0.4 V/(2 x 0.82 ohm) = 244 mA shows 73.2 V, 17.9 W; 56 ohm 10 W on 24.1 V takes 0.43 A,
10.4 W. The judge (tests/robot/judge) runs the same board with the resistor in a circuit simulator.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from case_support import Case, begun, play
from halfsplit.circuit.model import Circuit, Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.build import as_marked
from halfsplit.diagnosis.dummy import Dummy, loads_of, run_of
from halfsplit.errors import EntryError
from halfsplit.jobs.entry import ActEntry, Names, ReadingEntry, Sticky, parse_line
from halfsplit.jobs.work import Work
from halfsplit.solver.powered import solve_powered
from judged import JudgedBoard

LED = ("unit: LED panel lamp, 230V 50Hz, class II, 20W", "symptom: dark, no flash", "start: LED driver 72V 240mA")
FAN = ("unit: air purifier, 230V 50Hz, class II, 30W", "symptom: dead", "start: flyback with integrated switch; out 24V 1A; fan 0.45A; buck 5V 0.3A")
OFF = ("off", "dead 9V bulk-cap 0.4V out-cap 0.2V mains 0V 9V", "fusible-R 4.8r", "drain to cs 1.6M creeping")
NAMES = Names(parts=("fan", "R1"), nets=("out", "0V"))
NET_TOO = Names(parts=("fan", "R1"), nets=("out", "0V", "dummy"))


def job(lines: tuple[str, ...], folder: Path) -> Work:
    return begun(Case(lines, (), ("", ""), 0, ()), folder)


def panel() -> Circuit:
    return start_circuit("LED driver 72V 240mA", Unit("LED panel lamp", 230.0, 50.0, "II", 20.0), ())


# ---- the line


@pytest.mark.parametrize("line", ["dummy 56R 10W fan", "dummy 10W 56R fan", "dummy 56R 10W in place of fan", "dummy 56R 10W at fan"])
def test_ohms_watts_and_the_load(line: str) -> None:
    for names in (NAMES, NET_TOO):
        (entry,) = parse_line(line, names, Sticky())
        assert isinstance(entry, ActEntry)
        assert (entry.act, entry.part, entry.ohms, entry.watts) == ("dummy", "fan", 56.0, 10.0)


@pytest.mark.parametrize(
    "line",
    ["dummy", "dummy 300R", "dummy 25W", "dummy 300R? 25W", "dummy 300R 0W", "dummy OL 25W", "dummy 56 ohm 10W fan", "dummy fan 300R 25W"],
)
def test_what_is_not_known_of_the_resistor_is_asked_for(line: str) -> None:
    with pytest.raises(EntryError, match="56R 10W fan"):
        parse_line(line, NAMES, Sticky())


def test_a_net_of_that_name_is_still_read() -> None:
    """SHEET: a verb never hides a net."""
    (entry,) = parse_line("dummy 24.0", NET_TOO, Sticky(power="on"))
    assert isinstance(entry, ReadingEntry) and entry.red_net == "dummy" and entry.value == 24.0


# ---- in place of what


def test_a_string_is_taken_with_its_plugs_and_a_load_alone() -> None:
    run = run_of(panel(), "led-3")
    assert {run.plus, run.minus} == {"bulk", "out-"} and run.parts == {"plug-plus", "plug-minus", *(f"led-{k}" for k in range(1, 7))}
    assert (run.plus, run.minus) == ("bulk", "out-")
    fans = start_circuit(FAN[2].removeprefix("start: "), Unit("air purifier", 230.0, 50.0, "II", 30.0), ())
    assert run_of(fans, "fan").parts == {"fan"} and {"fan", "out-load"} <= set(loads_of(fans))


def test_which_load_has_to_be_named_where_there_are_several(tmp_path: Path) -> None:
    work = job(FAN, tmp_path)
    play(work, ("off", "dead 9V bulk-cap 0.4V out-cap 0.2V x-cap 0.3V second-cap 0.1V mains 0V 9V"))
    refused = work.send("dummy 56R 10W")["refused"]
    assert "loads on this sheet" in refused and "fan" in refused
    assert "no load that a dummy can stand for" in work.send("dummy 56R 10W fuse")["refused"]
    answer = work.send("dummy 56R 10W fan")
    assert answer["ok"], answer["refused"]


# ---- what is refused


def test_a_hot_output_has_to_be_proven_dead_first(tmp_path: Path) -> None:
    work = job(LED, tmp_path)
    play(work, ("off",))
    refused = work.send("dummy 300R 25W")["refused"]
    assert "bulk is on the mains side and not proven dead" in refused and "dead" in refused
    play(work, OFF)
    assert work.send("dummy 300R 25W")["ok"]


def test_not_while_it_is_on(tmp_path: Path) -> None:
    work = job(LED, tmp_path)
    play(work, ("on", "yes"))
    assert "the set is on; pull the plug" in work.send("dummy 300R 25W")["refused"]


def test_more_watts_than_it_bears_are_refused_with_the_net_the_volts_and_the_watts(tmp_path: Path) -> None:
    """By hand: 73.2 V across 300 ohm are 17.9 W; 10 W is too little."""
    work = job(LED, tmp_path)
    play(work, OFF)
    refused = work.send("dummy 300R 10W")["refused"]
    assert "of its 10 W" in refused and " V between bulk and out-" in refused and "read cold" in refused
    watts = float(refused.split("would take ")[1].split(" W")[0])
    assert watts > 17.0


# ---- what it does


def test_it_stays_on_the_refit_list_until_it_is_taken_off(tmp_path: Path) -> None:
    work = job(LED, tmp_path)
    answer = play(work, (*OFF, "dummy 300R 25W"))
    assert answer["state"]["refit"] == ["dummy 300R 25W across bulk and out-"]
    assert play(work, ("plug led-2",))["state"]["refit"] == [] and not work.standing.unplugged
    play(work, ("dummy 300R 25W", "dummy 330R 25W"))
    assert work.standing.dummy is not None and work.standing.dummy.ohms == 330.0
    assert play(work, ("dummy none",))["state"]["refit"] == []


def test_a_place_that_came_off_with_the_string_is_not_weighed(tmp_path: Path) -> None:
    work = job(LED, tmp_path)
    answer = play(work, (*OFF, "dummy 300R 25W", "on", "yes", "led-2 0.0"))
    assert answer["found"] == []


def test_the_volts_across_it_are_those_by_hand(tmp_path: Path) -> None:
    """0.4 V over twice 0.82 ohm, through 300 ohm: 73.2 V."""
    work = job(LED, tmp_path)
    answer = play(work, (*OFF, "dummy 300R 25W", "on", "yes", "out-cap 73.2"))
    low, high = answer["found"][0]["expected"]
    assert low < 0.4 / (2 * 0.82) * 300.0 < high


def test_the_judge_has_the_same_volts_across_it() -> None:
    """A light table's boost with 220 ohm in place of its strings: by hand 0.2 V/1.1 ohm = 182 mA, 40.0 V; the judge's own run within 2 %."""
    made = start_circuit("LED boost; adapter 12V; out 37V 180mA; 3 strings", Unit("light table", 120.0, 60.0, "III", 10.0))
    with_it = Dummy(220.0, 10.0, run_of(made, "string-1")).on(made)
    shown = JudgedBoard(with_it, None, 1, "none").live(frozenset(), None).volts("out", "sense")["dc"]
    own = solve_powered(with_it, {p.ref: as_marked(p, 1) for p in with_it.parts}, 1, switched_on=True).reading("out", "sense", "v")[0]
    assert own == pytest.approx(shown, rel=0.02) and own == pytest.approx(40.0, rel=0.03)
