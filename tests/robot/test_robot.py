"""The robot technician, his rival and his bookkeeping, on a bench of plain resistors and with a tool that follows a script."""

from __future__ import annotations

import json
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from bench import Bench, hot_nets
from costs import Clock
from doubts import parse_value, true_line
from fake_bench import SCRIPTED_PROCESS, UNIT, FakeBoard, chain_circuit, fake_faults
from groups import Groups
from halfsplit.circuit.starting import start_circuit
from halfsplit.units import parse_quantity
from halfsplitting import Finding, HalfSplitter
from hands import Hands, Probe, Taken
from meter import ACCURACY, NO_SLIPS, SLIP_KINDS, Meter, Slips, agree, draw_meter, notation, tolerance, wrong_prefix
from robot import Habits, Record, Technician
from run_robot import Plan, run_batch, run_one
from scenarios import KINDS, Shown, draw, said_of, works
from table import Row, markdown
from tool import ObjectTool, ProcessTool, ToolFailed
from verdicts import judge_finding, judge_record
from watch import Watch

THREE = {"unit": "test set, 230V 50Hz, class I, 350W", "symptom": "no heat",
         "start": "series chain: fuse, link, stat, heater 350W"}
EXACT = Meter(dict.fromkeys(ACCURACY, 0.0))
STEADY = Habits(NO_SLIPS, 0.0, 0.0)
LIVE_CARD = {"kind": "round", "state": "on", "function": "ac", "hazard": "H3",
             "probes": [{"red": "mid", "black": "N", "where": "mid", "function": "ac", "type": "mid "}]}
ON_CARD = {"kind": "act", "do": "on", "type": "on", "confirm": ["isolation transformer in", "one hand"]}
START = [
    {"line": None, "refused": None, "card": {"kind": "start", "ask": "unit", "type": "unit: "}},
    ["unit: .*", {"card": {"kind": "start", "ask": "symptom", "type": "symptom: "}}],
    ["symptom: no heat", {"card": {"kind": "start", "ask": "start", "type": "start: "}}],
]


def cold_round(*wheres: tuple[str, str, str, str]) -> dict[str, Any]:
    return {"kind": "round", "state": "dead", "function": "r", "probes": [
        {"where": w, "red": r, "black": b, "function": f, "type": f"{w} "} for w, r, b, f in wheres]}


def technician(tool: Any, board: FakeBoard, *, habits: Habits = STEADY, seed: int = 1, fault: Any = None) -> Technician:
    bench = Bench(board.circuit, board)
    return Technician(tool, bench, THREE, fault=fault, meter=EXACT, rng=np.random.default_rng(seed), habits=habits)


def scripted(steps: list[Any]) -> ObjectTool:
    """The script of the process, in this process; a line that is not in it is refused."""
    import re

    at = [1]

    def send(line: str) -> dict[str, Any]:
        wanted, answer = steps[at[0]]
        if not re.fullmatch(wanted, line):
            last = steps[at[0] - 1]
            card = (last[1] if isinstance(last, list) else last).get("card")
            return {"line": None, "refused": f"wanted {wanted}, got {line}", "card": card}
        at[0] += 1
        return {"line": at[0] - 1, "refused": None, **answer}

    return ObjectTool(lambda: steps[0], send)


END = {"card": {"kind": "end", "verdict": "convicted", "parts": ["link"], "ways": ["open"]}}


# --- the whole job -----------------------------------------------------------------------------------------------------------


def test_a_process_is_led_from_the_three_lines_to_the_verdict(tmp_path: Path) -> None:
    """Three lines, off, dead with the volts, a round in one line, a leg up and the part alone, the verdict."""
    steps = [*START,
        ["start: .*", {"card": {"kind": "act", "do": "off", "type": "off"}}],
        ["off", {"card": {"kind": "act", "do": "dead", "type": "dead ", "text": "discharge bulk-cap, then read it"}}],
        [r"dead bulk-cap 6V", {"card": cold_round(("link", "live", "mid", "r"), ("heater", "hot", "N", "r"))}],
        [r"144\.8k 151", {"card": {"kind": "act", "do": "lift link.a", "type": "lift link.a"}}],
        ["lift link.a", {"card": cold_round(("link", "live", "mid", "r"))}],
        ["OL", {**END, "suspects": [{"part": "link", "way": "open", "odds": 0.98},
                                {"part": "stat", "way": "open", "odds": 0.01}]}],
    ]
    script, program = tmp_path / "steps.json", tmp_path / "tool.py"
    script.write_text(json.dumps(steps), encoding="utf-8")
    program.write_text(SCRIPTED_PROCESS, encoding="utf-8")
    tool = ProcessTool([sys.executable, str(program), str(script)], patience=20)
    try:
        record = technician(tool, FakeBoard(chain_circuit(), ("link", "open"), charges={"bulk-cap": 300.0 * math.exp(3)})).work()
    finally:
        tool.close()
    assert record.refusals == ()
    assert (record.ended, record.parts, record.ways) == ("convicted", ("link",), ("open",))
    assert record.suspects[0] == ("link", "open", 0.98)
    # 60 s discharge, three cold readings of 20 s, one lift of 180 s (common practice)
    assert record.clock.seconds == pytest.approx(60 + 3 * 20 + 180)
    assert record.clock.keystrokes == sum(len(line) + 1 for line in record.lines)
    assert record.violations == ()


def test_a_silent_and_a_babbling_process_are_told_apart_from_an_answer(tmp_path: Path) -> None:
    """No JSON, an early end and silence each raise ToolFailed with what came."""
    for text, said in (("print('hello', flush=True)", "not JSON"), ("raise SystemExit(3)", "ended"),
                       ("print('[1]', flush=True)", "not one JSON"), ("import time; time.sleep(30)", "no answer within")):
        with pytest.raises(ToolFailed, match=said):
            ProcessTool([sys.executable, "-c", text], patience=1.0 if "sleep" in text else 20.0)


def test_only_the_capacitors_on_the_card_are_discharged() -> None:
    """The far capacitor is not named, keeps its volts, and ohms beside it are a violation."""
    board = FakeBoard(chain_circuit(), charges={"bulk-cap": 300 * math.exp(3), "far-cap": 200 * math.exp(3)})
    steps = [*START,
        ["start: .*", {"card": {"kind": "act", "do": "dead", "type": "dead ", "text": "discharge bulk-cap"}}],
        ["dead bulk-cap .*V", {"card": cold_round(("R2", "tap", "N", "r"))}], [r"\S+", END]]
    record = technician(scripted(steps), board).work()
    assert len(record.violations) == 1 and "far-cap" in record.violations[0]


def test_a_capacitor_list_on_the_card_wins_over_its_words() -> None:
    """A card with `caps` names them all, and each is typed with the volts read there."""
    board = FakeBoard(chain_circuit(), charges={"bulk-cap": 300 * math.exp(3), "far-cap": 200 * math.exp(3)})
    steps = [*START,
        ["start: .*", {"card": {"kind": "act", "do": "dead", "type": "dead ", "caps": ["bulk-cap", "far-cap"]}}],
        [r"dead bulk-cap \d+(\.\d+)?V far-cap \d+(\.\d+)?V", {"card": cold_round(("R2", "tap", "N", "r"))}], [r"\S+", END]]
    assert technician(scripted(steps), board).work().violations == ()


def test_the_battery_is_typed_where_the_card_wants_the_meter_proven() -> None:
    """Before the volts while the meter is unproven, after them only where one of them shows 0.0; the volts bare, in the card's order."""
    for prove, left, expected in (("prove", 300.0, r"dead 9V \d+(\.\d+)? \d+(\.\d+)?"), ("prove", 0.0, "dead 9V 0 0 9V"), ("proven", 0.0, "dead 0 0 9V")):
        board = FakeBoard(chain_circuit(), charges={"bulk-cap": left * math.exp(3), "far-cap": left * math.exp(3)})
        card = {"kind": "act", "do": "dead", "type": "dead ", "caps": ["bulk-cap", "far-cap"], "meter": prove}
        record = technician(scripted([*START, ["start: .*", {"card": card}], [expected, END]]), board).work()
        assert (record.refusals, record.ended) == ((), "convicted")


def test_the_second_look_waits_its_seconds_discharges_nothing_and_is_paid_for() -> None:
    """A card with a wait: the technician lets it pass and reads again; the tool's clock is told."""
    board = FakeBoard(chain_circuit(), charges={"bulk-cap": 5 * math.exp(3)})
    card = {"kind": "act", "do": "dead", "type": "dead ", "caps": ["bulk-cap"], "meter": "proven", "wait": 40}
    tool, passed = scripted([*START, ["start: .*", {"card": card}], [r"dead \d+(\.\d+)?", END]]), []
    tool.pass_time = passed.append
    record = technician(tool, board).work()
    assert record.ended == "convicted" and record.clock.discharges == 0
    assert record.clock.seconds == 60.0 and sum(passed) == 60.0


def test_the_source_is_shown_and_the_list_is_said_yes_to_when_a_card_asks() -> None:
    """`meter` with the battery, `yes` to a going-live list; after that a mains-side reading is no violation."""
    steps = [*START, ["start: .*", {"card": {"kind": "act", "do": "meter", "type": "meter 9V"}}],
             ["meter 9V", {"card": {**ON_CARD, "confirm": ["lid over the mains side"]}}],
             ["on", {"card": {"kind": "act", "do": "confirm", "type": "yes", "confirm": ["isolation transformer in"]}}],
             ["yes", {"card": LIVE_CARD}], [r"\S+", END]]
    record = technician(scripted(steps), FakeBoard(chain_circuit())).work()
    assert (record.ended, record.violations) == ("convicted", ())


def test_after_a_refusal_that_asks_for_an_act_the_act_comes_first() -> None:
    """Ohms typed too late: the card asks for the volts once more, and the round is read again after them."""
    again = {"card": {"kind": "act", "do": "dead", "type": "dead ", "caps": ["bulk-cap"], "meter": "proven", "wait": 0}}
    steps = [*START, ["start: .*", {"card": cold_round(("R2", "tap", "N", "r"), ("link", "live", "mid", "r"))}],
             [r"\S+ \S+", {"line": None, "refused": "a minute is over", **again}],
             [r"dead \S+( 9V)?", {"card": cold_round(("R2", "tap", "N", "r"))}], [r"\S+", END]]
    record = technician(scripted(steps), FakeBoard(chain_circuit())).work()
    assert (record.ended, len(record.refusals)) == ("convicted", 1)


def test_live_readings_cost_ninety_seconds_first_and_twenty_after() -> None:
    """First live hot reading 90 s, the next on the same ground 20 s, a new power cycle starts anew (common practice)."""
    clock = Clock()
    clock.switch_on()
    clock.read(live=True, hot=True, black="N")
    clock.read(live=True, hot=True, black="N")
    clock.discharge()
    assert (clock.seconds, clock.live_hot) == (120 + 90 + 20, 2)
    clock.switch_on()
    clock.read(live=True, hot=True, black="N")
    assert clock.seconds == 120 + 90 + 20 + 120 + 90


def test_a_display_that_wanders_is_typed_as_its_two_ends() -> None:
    """A pulsing volt reading goes in as low..high."""
    board = FakeBoard(chain_circuit(), wander={"mid": (3.0, 9.0)})
    card = {**LIVE_CARD, "function": "v", "probes": [{**LIVE_CARD["probes"][0], "function": "v"}]}
    steps = [*START, ["start: .*", {"card": ON_CARD}], ["on", {"card": card}], [r"3\.\.9", END]]
    assert technician(scripted(steps), board).work().ended == "convicted"


def test_a_refused_round_is_typed_again_place_by_place() -> None:
    """When the whole line is refused the same readings go in one by one, without measuring again."""
    steps = [*START, ["start: .*", {"card": cold_round(("fuse", "inlet", "live", "r"), ("heater", "hot", "N", "r"))}],
             [r"fuse \S+", {"card": cold_round(("heater", "hot", "N", "r"))}], [r"heater \S+", END]]
    record = technician(scripted(steps), FakeBoard(chain_circuit())).work()
    assert record.ended == "convicted" and record.clock.readings == 2 and len(record.refusals) == 1


def test_an_act_that_no_bench_here_can_do_ends_the_job_honestly() -> None:
    """A bench supply is not at hand: said, not faked."""
    steps = [*START, ["start: .*", {"card": {"kind": "act", "do": "bench out 14.5V 0.5A", "type": "bench out 14.5V 0.5A"}}]]
    assert technician(scripted(steps), FakeBoard(chain_circuit())).work().ended.startswith("cannot")


def test_the_budget_ends_a_job_that_goes_round_in_circles() -> None:
    """Forty readings are the end, and the end is no answer."""
    card = {"card": cold_round(("fuse", "inlet", "live", "r"))}
    record = technician(scripted([*START, ["start: .*", card], *[[r"\S+", card]] * 60]), FakeBoard(chain_circuit())).work()
    assert record.ended == "budget" and record.clock.readings == 40
    assert judge_record(record, ("link", "open"), frozenset({"link"})).no_answer


def test_a_card_that_never_moves_is_a_dead_end() -> None:
    """A tool that logs nothing and shows the same card again is left after four tries."""
    off = {"kind": "act", "do": "off", "type": "off"}
    tool = ObjectTool(lambda: {"line": None, "card": ON_CARD}, lambda line: {"line": None, "card": off})
    assert technician(tool, FakeBoard(chain_circuit())).work().ended == "stuck"


def test_a_part_is_bound_by_the_marking_on_the_board_and_its_name_is_understood_afterwards() -> None:
    """`R201 R1 100k` is typed; a verdict that names R201 counts for the part at that place."""
    steps = [*START, ["start: .*", {"card": {"kind": "act", "do": "name R1", "type": ""}}],
             ["R201 R1 100k", {"card": {"kind": "end", "verdict": "convicted", "parts": ["R201"]}}]]
    assert technician(scripted(steps), FakeBoard(chain_circuit())).work().parts == ("R1",)


# --- slips and doubts --------------------------------------------------------------------------------------------------------


def test_a_misread_prefix_is_owned_up_to_when_the_tool_doubts_it() -> None:
    """R2 reads 32k as 32M; the doubt makes him look again, and he types the line that is true."""
    habits = Habits(Slips(0.0, 1.0, 0.0, 0.0), 0.0, 0.0)
    doubt = {"ask": "was it k?", "type": {"yes": "was 31.97k", "no": ""}}
    steps = [*START, ["start: .*", {"card": cold_round(("R2", "tap", "N", "r"))}],
             [r"47M|\S+M", {"doubt": doubt, "card": ON_CARD}], [r"was \S+k", END]]
    board = FakeBoard(chain_circuit(), ("heater", "open"))
    record = technician(scripted(steps), board, habits=habits).work()
    assert record.ended == "convicted" and record.slips == ("prefix at R2",) and record.clock.readings == 2


def test_a_right_reading_is_stood_by() -> None:
    """Nothing was wrong: the empty "no" is not typed, and the card is obeyed."""
    doubt = {"ask": "was it M?", "type": {"yes": "was 47M", "no": ""}}
    steps = [*START, ["start: .*", {"card": cold_round(("R2", "tap", "N", "r"))}],
             [r"\S+k", {"doubt": doubt, "card": {"kind": "act", "do": "off", "type": "off"}}], ["off", END]]
    record = technician(scripted(steps), FakeBoard(chain_circuit(), ("heater", "open"))).work()
    assert record.ended == "convicted" and not any(line.startswith("was") for line in record.lines)


@pytest.mark.parametrize(("offered", "expected"), [
    ({"yes": "was 4.7k", "no": "no"}, "was 4.7k"), ({"yes": "was 47M", "no": "n"}, "was 4.7k"), ({"y": "no", "no": ""}, "no"),
    ({"yes": "black was mid", "no": ""}, "was 4.7k"), ({"yes": "R2", "no": ""}, "R2 4.7k"),
])
def test_of_the_lines_a_doubt_offers_the_true_one_is_typed(offered: dict[str, str], expected: str) -> None:
    """The reading was written down as 4.7M and is 4.7k: a line that says so wins, a false one is corrected."""
    probe = Probe("r", "tap", "N", "R2")
    pair = (Taken(probe, 4.7e6, None, "prefix", probe), Taken(probe, 4.7e3, None, None, probe))
    assert true_line(offered, [pair], plugged=False, lamp=None) == expected


def test_black_on_the_wrong_net_is_admitted() -> None:
    """With swapped leads the black one stood on the red net."""
    probe = Probe("v", "tap", "N", "tap")
    swapped = Probe("v", "N", "tap", "tap")
    pair = (Taken(probe, -5.0, None, "swapped", swapped), Taken(probe, 5.0, None, None, probe))
    assert true_line({"yes": "black was tap", "no": ""}, [pair], plugged=True, lamp=None) == "black was tap"


def test_slips_come_as_often_as_they_are_said_to() -> None:
    """20 000 readings: each kind within 5 sigma of its chance (binomial), fixed seed."""
    slips, rng, n = Slips(), np.random.default_rng(5), 20_000
    drawn = [slips.draw(rng) for _ in range(n)]
    for kind, chance in zip(SLIP_KINDS, (0.004, 0.002, 0.002, 0.002), strict=True):
        assert abs(drawn.count(kind) - n * chance) < 5 * math.sqrt(n * chance)
    assert all(NO_SLIPS.draw(rng) is None for _ in range(1000))


@pytest.mark.parametrize("kind", SLIP_KINDS)
def test_a_slip_that_changes_the_paper_is_counted_and_one_that_does_not_is_none(kind: str) -> None:
    """Ohms both ways of a resistor are the same, so swapped leads there are no slip; the others show."""
    only = Slips(*(1.0 if k == kind else 0.0 for k in SLIP_KINDS))
    bench = Bench(chain_circuit(), FakeBoard(chain_circuit(), ("heater", "open")))
    hands = Hands(bench, Clock(), EXACT, only, np.random.default_rng(2))
    taken = hands.take(Probe("r", "tap", "N", "R2"))
    assert (taken.slip is None) == (kind == "swapped")
    assert len(hands.slipped) == (kind != "swapped")
    assert hands.take(Probe("r", "tap", "N", "R2"), careful=True).slip is None


def test_another_reading_than_asked_is_typed_with_its_place() -> None:
    """`where to black value` with the unit that the state wants."""
    steps = [*START, ["start: .*", {"state": {"black": "N"}, "card": cold_round(("R2", "tap", "N", "r"))}],
             [r"(L|inlet|live|mid|hot|tap) to N (\S+) r", END]]
    assert technician(scripted(steps), FakeBoard(chain_circuit()), habits=Habits(NO_SLIPS, 1.0, 0.0)).work().ended == "convicted"


# --- the watcher -------------------------------------------------------------------------------------------------------------


def watcher(board: FakeBoard, fault: Any = ("link", "open")) -> Watch:
    return Watch(Bench(board.circuit, board), fault)


def test_ohms_on_a_running_board_are_a_violation() -> None:
    """Plugged in is enough, whatever is read."""
    watch = watcher(FakeBoard(chain_circuit()))
    watch.bench.switch_on()
    watch.before_round(cold_round(("R2", "tap", "N", "r")))
    assert watch.violations == ["r at R2 while plugged in"]


def test_ohms_beside_a_charged_capacitor_are_a_violation_until_it_is_drained() -> None:
    """Off is not dead: 300 V on the bulk capacitor count until the discharge tool was there."""
    watch = watcher(FakeBoard(chain_circuit(), charges={"bulk-cap": 300.0}))
    watch.bench.switch_on()
    watch.bench.switch_off()
    watch.before_round(cold_round(("fuse", "inlet", "live", "r")))
    assert len(watch.violations) == 1
    watch.bench.drain("bulk-cap")
    watch.before_round(cold_round(("fuse", "inlet", "live", "r")))
    assert len(watch.violations) == 1


def test_a_live_card_needs_a_confirmed_switch_on() -> None:
    """A switch-on card without anything to confirm, and a live reading after it: two violations; with it: none."""
    watch = watcher(FakeBoard(chain_circuit()))
    watch.before_act("on", {"do": "on"}, [])
    watch.bench.switch_on()
    watch.before_round(LIVE_CARD)
    assert len(watch.violations) == 2
    good = watcher(FakeBoard(chain_circuit()))
    good.before_act("on", ON_CARD, [])
    good.bench.switch_on()
    good.before_round(LIVE_CARD)
    assert good.violations == []


def test_a_mains_side_reading_needs_the_mains_sides_own_list() -> None:
    """Switched on with the list of the isolated side, the mains side was not said yes to; nor after the plug was out."""
    watch = watcher(FakeBoard(chain_circuit()))
    watch.before_act("on", {"do": "on", "live": "hot", "confirm": ["lid over the mains side"]}, [])
    watch.bench.switch_on()
    watch.before_round(LIVE_CARD)
    assert len(watch.violations) == 1 and "nobody said yes" in watch.violations[0]
    watch.before_act("confirm", {"do": "confirm", "confirm": ["isolation transformer in"]}, [])
    watch.before_round(LIVE_CARD)
    assert len(watch.violations) == 1
    watch.before_act("off", {"do": "off"}, [])
    watch.before_round(LIVE_CARD)
    assert len(watch.violations) == 2


def test_volts_past_the_meter_and_switching_nodes_are_violations() -> None:
    """700 V peaks where the meter is rated 600 V; a net the sheet calls switching."""

    watch = watcher(FakeBoard(chain_circuit(), wander={"mid": (0.0, 700.0)}))
    watch.confirmed = watch.hot_confirmed = True
    watch.bench.switch_on()
    watch.before_round(LIVE_CARD)
    assert "700 V" in watch.violations[0]
    board = FakeBoard(replace(chain_circuit(), switching=frozenset({"mid"})))
    other = watcher(board)
    other.confirmed = other.hot_confirmed = True
    other.bench.switch_on()
    other.before_round(LIVE_CARD)
    assert "switching node" in other.violations[0]


def test_a_part_past_its_rating_counts_by_what_could_be_known() -> None:
    """Unforeseen below 1 % odds; a violation above; always one when something had been lifted."""
    on = {"do": "on", "confirm": ["x"]}
    for odds, counted in ((0.005, (0, 1)), (0.2, (1, 0))):
        watch = watcher(FakeBoard(chain_circuit(), ("link", "open"), past=["bulk-cap 450 V"]))
        watch.before_act("on", on, [{"part": "link", "way": "open", "odds": odds}])
        assert (len(watch.violations), len(watch.unforeseen)) == counted
    watch = watcher(FakeBoard(chain_circuit(), ("link", "open"), past=["bulk-cap 450 V"]))
    watch.bench.lift("R1", "a")
    watch.before_act("on", on, [])
    assert len(watch.violations) == 1 and "R1" in watch.violations[0]


def test_a_protector_out_or_bridged_is_a_violation() -> None:
    """Fuse lifted at switch-on; a card that wants the link bridged. A resistor lifted is no violation of this kind."""
    watch = watcher(FakeBoard(chain_circuit()))
    watch.bench.lift("R1", "a")
    watch.before_act("on", ON_CARD, [])
    assert watch.violations == []
    watch.bench.lift("fuse", "a")
    watch.before_act("on", ON_CARD, [])
    watch.before_act("bridge link", {}, [])
    assert len(watch.violations) == 2


# --- meter -------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("function", "unit"), [("r", "ohm"), ("c", "F"), ("v", "V"), ("esr", "ohm")])
def test_what_is_typed_can_be_read_back(function: str, unit: str) -> None:
    """Displays over many decades come back through the reader of values within half a count of four digits."""
    rng = np.random.default_rng(3)
    decades = {"r": (-0.5, 7.7), "c": (-11.0, -2.0), "v": (-1.5, 2.7), "esr": (-1.5, 1.9)}[function]
    for exponent in rng.uniform(*decades, 300):
        shown = EXACT.shown(function, 10**exponent)
        back = parse_quantity(notation(function, shown), unit).value
        assert back == pytest.approx(shown, rel=6e-3, abs=6e-4 if function in ("v", "r", "esr") else 6e-13)
    assert notation(function, math.inf) == "OL"


def test_a_meter_keeps_to_its_accuracy() -> None:
    """Fifty meters: every display within the tolerance stated for it."""
    for seed in range(50):
        meter = draw_meter(np.random.default_rng(seed))
        for function in ("r", "v", "ac", "c", "d"):
            value = {"c": 4.7e-6, "d": 0.55}.get(function, 47.0)
            assert abs(meter.shown(function, value) - value) <= tolerance(function, value)


def test_prefix_slips_move_three_decades_and_leave_plain_numbers_alone() -> None:
    """k for M and M for k; 12 ohm has no prefix to misread."""
    assert (wrong_prefix("r", 4.7e3), wrong_prefix("r", 2.2e6), wrong_prefix("r", 12.0)) == (4.7e6, 2.2e3, 12.0)


def test_values_of_doubt_lines_are_read_in_every_usual_notation() -> None:
    """0.43M, 4k7, OL, 12V; a word is none."""
    assert parse_value("0.43M") == pytest.approx(0.43e6) and parse_value("4k7") == pytest.approx(4700)
    assert parse_value("OL") == math.inf and parse_value("12V") == 12 and parse_value("hot-") is None
    assert agree("r", 4700, 4720) and not agree("r", 4700, 5200)


# --- groups, symptoms, rival -------------------------------------------------------------------------------------------------


def test_faults_that_no_reading_tells_apart_are_one_group_and_others_are_not() -> None:
    """With the net between them out of reach, link open and stat open read alike everywhere; fuse open does not."""

    circuit = replace(chain_circuit(), cant=frozenset({"mid"}), parts=tuple(
        replace(p, pins={**p.pins, "c": "mid"}) if p.ref in ("link", "stat") else p for p in chain_circuit().parts))

    def make(c: Any, fault: Any, seed: int) -> FakeBoard:
        return FakeBoard(chain_circuit(), fault, seed)

    groups = Groups(circuit, make, fake_faults)
    assert groups.parts(("link", "open")) == {"link", "stat"}
    assert groups.parts(("fuse", "open")) == {"fuse"}
    assert "" in groups.parts(("lead", "short"))


def test_a_table_of_groups_is_kept_and_read_again(tmp_path: Path) -> None:
    """The second time no board is made at all."""
    first = Groups(chain_circuit(), FakeBoard, fake_faults, tmp_path)
    found = first.parts(("link", "open"))

    def never(c: Any, fault: Any, seed: int) -> FakeBoard:
        raise AssertionError("the table was there already")

    assert Groups(chain_circuit(), never, fake_faults, tmp_path).parts(("link", "open")) == found


@pytest.mark.parametrize(("healthy", "now", "words"), [
    ([("load", 12.0, False)], [("load", 0.1, False)], "dead"), ([("heater", 230.0, False)], [("heater", 0.0, False)], "no heat"),
    ([("load", 12.0, False)], [("load", 5.0, True)], "ticks"),
    ([("heater", 0.0, False)], [("heater", 230.0, False)], "always on"),
    ([("load", 12.0, False)], [("load", 10.0, False)], "output low"), ([("load", 12.0, False)], [("load", 12.1, False)], ""),
    ([("load", 12.0, False), ("load", 5.0, False)], [("load", 12.0, False), ("load", 0.0, False)], "half dead"),
])
def test_the_customer_says_what_can_be_seen(healthy: Any, now: Any, words: str) -> None:
    """Words follow from the loads alone."""
    def made(items: Any) -> list[Shown]:
        return [Shown(f"load{i}", fam, frozenset(), rms, pulsing) for i, (fam, rms, pulsing) in enumerate(items)]

    assert said_of(made(healthy), made(now)) == words


def chain_only(circuit: Any, fault: Any, seed: int) -> FakeBoard:
    return FakeBoard(circuit, fault, seed)


def chain_faults(circuit: Any) -> list[tuple[str, str]]:
    return [(n, "open") for n in circuit.chain if n != "mains"]


def test_a_unit_that_does_nothing_is_not_a_healthy_one() -> None:
    """Dead at rest, but alive with a control pressed, is how a heater should be; nothing anywhere, or a twitch, is no working unit."""
    still = Shown("load", "load", frozenset(), 0.2, False)
    assert works((replace(still, rms=5.0),)) and works((still, replace(still, pressed=frozenset({"heat"}), rms=230.0)))
    assert not works((still,)) and not works((replace(still, rms=5.0, pulsing=True),))


def test_a_scenario_is_the_same_every_time() -> None:
    """Index and seed decide everything; another seed gives other boards."""
    kinds = [k for k in KINDS if k.name == "series chain"]
    kinds = [type(kinds[0])("series chain", "laminator", "I", (kinds[0].starts[0], kinds[0].starts[2]))]
    one = [draw(i, 7, chain_only, chain_faults, kinds) for i in range(12)]
    assert one == [draw(i, 7, chain_only, chain_faults, kinds) for i in range(12)]
    assert one != [draw(i, 8, chain_only, chain_faults, kinds) for i in range(12)]
    assert {s.symptom for s in one} <= {"no heat", "works now"} and any(s.fault for s in one)


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.name)
def test_every_start_line_makes_a_board(kind: Any) -> None:
    """Each line on both mains is a circuit with a load that a customer sees, and the mains itself is on the hot side."""
    from halfsplit.circuit.model import Unit

    for line, watts in kind.starts:
        for volts, hertz in ((230.0, 50.0), (120.0, 60.0)):
            circuit = start_circuit(line, Unit(kind.what, volts, hertz, kind.klass, watts))
            assert {"L", "N"} <= hot_nets(circuit)
            if "cold" in circuit.grounds:
                assert circuit.grounds["cold"] not in hot_nets(circuit)


@pytest.mark.parametrize("part", ["lead", "fuse", "link", "stat", "heater"])
def test_half_splitting_finds_an_open_part_of_a_chain(part: str) -> None:
    """The rival is a fair one: on a plain chain he is right, within the budget."""
    board, sheet = FakeBoard(chain_circuit(), (part, "open")), FakeBoard(chain_circuit())
    rival = HalfSplitter(Bench(board.circuit, board), Bench(sheet.circuit, sheet), EXACT, np.random.default_rng(1), NO_SLIPS)
    found = rival.work()
    assert found.part == part and 0 < found.clock.minutes < 60 and board.gone == {}


def test_half_splitting_does_not_power_a_board_that_is_shorted_at_the_plug() -> None:
    """A third of the healthy ohms at the plug: parts are tested dead, the board never runs."""
    board, sheet = FakeBoard(chain_circuit(), ("heater", "short")), FakeBoard(chain_circuit())
    rival = HalfSplitter(Bench(board.circuit, board), Bench(sheet.circuit, sheet), EXACT, np.random.default_rng(1), NO_SLIPS)
    assert rival.work().part == "heater" and board.ran == 0


# --- verdicts and the batch --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ended", "parts", "group", "right", "inside", "none", "wrong"), [
    ("convicted", ("link",), {"link"}, True, True, False, False), ("convicted", ("stat",), {"link"}, False, False, False, True),
    ("convicted", ("stat",), {"link", "stat"}, False, True, False, False),
    ("group", ("link", "R1"), {"link"}, True, True, False, False),
    ("group", ("stat", "link"), {"link", "stat"}, True, True, False, False),
    ("group", ("stat", "link"), {"link"}, False, False, True, False),
    ("group", ("stat", "R1"), {"link"}, False, False, False, True), ("nothing found", (), {"link"}, False, False, False, True),
    ("nothing found", (), {"link", ""}, False, True, False, False), ("budget", (), {"link"}, False, False, True, False),
    ("no reading helps", ("link",), {"link"}, False, False, True, False),
    ("not on the sheet", (), {"link"}, False, False, True, False),
])
def test_what_counts_as_right(ended: str, parts: Any, group: Any, right: bool, inside: bool, none: bool, wrong: bool) -> None:
    """A stop without an answer is a miss; a group is right when the truth is first in it or no reading could better it."""
    said = judge_record(Record(ended, parts), ("link", "open"), frozenset(group))
    assert (said.right, said.in_group, said.no_answer, said.wrong) == (right, inside, none, wrong)


def test_the_rival_is_judged_by_the_same_truth() -> None:
    """Right, wrong, and none; and nothing wrong on a healthy board."""
    assert judge_finding(Finding("link", Clock()), ("link", "open")).right
    assert judge_finding(Finding("fuse", Clock()), ("link", "open")).wrong
    assert judge_finding(Finding(None, Clock()), ("link", "open")).no_answer
    assert judge_finding(Finding("", Clock()), None).right


class JudgeFailed(Exception):
    """Named as the judge's own."""


def test_a_failure_of_the_judge_leaves_the_board_out_and_any_other_is_an_error(tmp_path: Path) -> None:
    """Both are in the row, neither is counted as a result."""
    def fails(kind: type[Exception]) -> Any:
        def make(circuit: Any, fault: Any, seed: int) -> FakeBoard:
            raise kind("timestep too small")
        return make

    plan = Plan(3, tmp_path)
    row = run_one(0, plan, fails(JudgeFailed), fake_faults, lambda folder: scripted(START))
    assert row.judge_failed == "timestep too small" and row.error == ""
    row = run_one(0, plan, fails(KeyError), fake_faults, lambda folder: scripted(START))
    assert row.judge_failed == "" and "KeyError" in row.error
    text = markdown([row, Row(1, "linear", judge_failed="x"), Row(2, "linear", right=True, distinguishable=True)], seed=3)
    assert "1 left out because the judge failed" in text and "| linear | 1 | 1/1 (100 %)" in text


def test_a_batch_goes_on_where_it_stopped(tmp_path: Path) -> None:
    """Rows in the file are not made again; a line cut off in the middle is."""
    made: list[int] = []

    def job(task: tuple[int, Plan]) -> Row:
        made.append(task[0])
        return Row(task[0], "linear", right=task[0] % 2 == 0, minutes=float(task[0]), refusals='said "no", twice')

    plan = Plan(9, tmp_path)
    run_batch(3, plan, 1, job)
    file = tmp_path / "robot-9.csv"
    file.write_text(file.read_text(encoding="utf-8")[:-30], encoding="utf-8")
    rows = run_batch(5, plan, 1, job)
    assert made == [0, 1, 2, 2, 3, 4] and [r.index for r in rows] == [0, 1, 2, 3, 4]
    assert "3/5 (60 %)" in (tmp_path / "robot-9.md").read_text(encoding="utf-8")


def test_the_unit_line_says_everything_the_tool_asks_for() -> None:
    """What it is, volts, hertz, class, watts."""
    from scenarios import unit_line

    assert unit_line(UNIT) == "test set, 230V 50Hz, class I, 350W"
