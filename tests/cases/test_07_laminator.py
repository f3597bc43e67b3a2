"""Common practice, worked case: rollers turn, never ready. The thermal link is open, and what cooked it is a welded relay contact.

Misleading: the heater reads its 151 ohm, so "the heater circuit is good". Calling heat, the mains stands across the link and nothing across stat and heater:
the link is open and all else in the loop continuous, the contact too. Unplugged the contact reads 0.1 ohm where OL is right.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from case_support import Case, begun, check, play, shuffled, without_decisive

CALLED = ("on", "press heat", "link 230ac", "stat 0.0ac", "heater 0.0ac", "off", "dead reservoir 0.3V")
COLD = ("off", "dead 9V reservoir 0.3V", "heater 151r")
START = Case(
    begin=(
        "unit: laminator, 230V 50Hz, class I, 360W", "symptom: never ready",
        "start: series chain: fuse, link 216C, stat, relay 12V, heater 350W; press heat",
    ),
    lines=(*COLD, *CALLED, "relay.no 0.1r"),
    true=("link", "open"), misled=3, decisive=("link 230ac", "stat 0.0ac", "heater 0.0ac"), also=("relay",), root=("relay",),
)
SHEET = (Path(__file__).parents[2] / "examples" / "laminator.yaml").read_text(encoding="utf-8")
FULL = Case(
    begin=SHEET,
    lines=("off", "dead 9V C1 0.3V", "HTR1 151r", "on", "press heat", "TL1 230ac", "TH1 0.0ac", "HTR1 0.0ac", "off", "dead C1 0.3V", "K1.no 0.1r"),
    true=("TL1", "open"), misled=3, decisive=("TL1 230ac", "TH1 0.0ac", "HTR1 0.0ac"), also=("K1",), root=("K1",),
)
CASES = {"three lines": START, "full sheet": FULL}


@pytest.mark.parametrize("name", CASES)
def test_the_link_and_what_cooked_it(tmp_path: Path, name: str) -> None:
    """Both stand as a pair; the link alone is no longer the answer."""
    got = check(CASES[name], tmp_path)
    assert set(got.end["pairs"][0]["parts"]) == {CASES[name].true[0], CASES[name].also[0]}
    assert got.end["pairs"][0]["odds"] > 0.5


@pytest.mark.parametrize("name", CASES)
def test_before_the_contact_was_read_the_end_names_the_relay_among_the_killers(tmp_path: Path, name: str) -> None:
    case = CASES[name]
    end = play(begun(case, tmp_path), case.lines[:-3])
    assert end["card"]["verdict"] == "convicted" and end["card"]["parts"] == [case.true[0]]
    assert "welded relay" in end["card"]["text"]


@pytest.mark.parametrize("name", CASES)
def test_in_another_order(tmp_path: Path, name: str) -> None:
    case = CASES[name]
    check(Case(case.begin, shuffled(case.lines, 3), case.true, 0, (), case.also, case.root), tmp_path)


@pytest.mark.parametrize("name", CASES)
def test_without_the_volts_across_the_link_it_is_not_convicted(tmp_path: Path, name: str) -> None:
    without_decisive(CASES[name], tmp_path)


def test_another_fault_of_the_same_sheet(tmp_path: Path) -> None:
    """The mains across the stat instead, nothing across the link: the stat."""
    lines = (*COLD, *[x.replace("link 230", "stat 230") if "link" in x else x.replace("stat 0.0", "link 0.0") for x in CALLED[:5]])
    check(Case(START.begin, lines, ("stat", "open"), 3, ()), tmp_path)
