"""Worked cases that take minutes each: python -m pytest -q perf/test_long_cases.py

The amplifier and the bench supply of tests/cases in other orders of their readings, from a full sheet, and without what decides. What holds of them stands in
perf/README.md, "Worked cases".
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest

for folder in ("tests", "tests/robot", "tests/cases"):
    sys.path.append(str(Path(__file__).parents[1] / folder))

import test_01_amplifier as amplifier  # noqa: E402
import test_04_bench_supply as supply  # noqa: E402
from case_support import check, shuffled, without_decisive  # noqa: E402

CASES = {"amplifier": amplifier.START, "bench supply": supply.START}


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", CASES)
def test_the_order_of_readings_within_a_state_does_not_matter(name: str, seed: int, tmp_path: Path) -> None:
    case = CASES[name]
    check(replace(case, lines=shuffled(case.lines, seed), misled=0), tmp_path)


def test_the_amplifier_from_a_full_sheet(tmp_path: Path) -> None:
    check(amplifier.FULL, tmp_path)


def test_the_bench_supply_without_what_decides(tmp_path: Path) -> None:
    without_decisive(supply.START, tmp_path)
