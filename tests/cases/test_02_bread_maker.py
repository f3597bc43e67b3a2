"""Common practice, worked case: a bread maker whose display resets at bake. The dropper has lost two thirds of its value.

By hand: 0.22 uF gives 4 f C (325 - 24 V) = 13.2 mA; 12 mA idle just fits, the relay wants 16.7 mA more.
Misleading: 24.0 V and 5.02 V at rest, "the supply is good".
"""

from __future__ import annotations

from pathlib import Path

import pytest

from case_support import Case, check, shuffled, without_decisive

START = Case(
    begin=("unit: bread maker, 230V 50Hz, class I, 580W", "symptom: display resets every 2s at bake", "start: dropper, 24V relay board"),
    lines=(
        "off", "dead 9V dropper-C 0.4V rail-cap 0.2V", "on", "L to N 231ac", "+24 24.0", "+5 5.02",
        "press bake", "+24 24.0>6.2 1.2s", "off", "dead dropper-C 1.1V rail-cap 0.3V", "relay.coil 1438r", "rail-cap 462u removed", "rail-cap 0.12esr",
        "C1 dropper-C 0.68u", "dropper-C 0.221u removed",
    ),
    true=("C1", "low"),
    misled=6,
    decisive=("+24 24.0>6.2 1.2s", "dropper-C 0.221u removed"),
)


def test_from_a_starting_sheet(tmp_path: Path) -> None:
    check(START, tmp_path)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_readings_within_a_state_does_not_matter(tmp_path: Path, seed: int) -> None:
    case = Case(START.begin, shuffled(START.lines, seed), START.true, 0, ())
    check(case, tmp_path)


def test_without_the_decisive_reading_nobody_is_convicted(tmp_path: Path) -> None:
    without_decisive(START, tmp_path)
