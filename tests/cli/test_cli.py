"""The commands as processes: what goes in, what comes out, and with which exit code."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
THREE = "unit: radio, 230V 50Hz, class II, 25W\nsymptom: dead\nstart: linear 12V 1A\n"


def run(*args: str, given: bytes = b"", cwd: Path | None = None) -> subprocess.CompletedProcess[bytes]:
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    return subprocess.run(
        [sys.executable, "-m", "halfsplit", *args], input=given, capture_output=True, env=env, cwd=cwd, timeout=120, check=False
    )


def test_work_speaks_one_json_object_a_line(tmp_path: Path) -> None:
    """One object before any input, then one for each line."""
    done = run("work", "job", "--json", given=(THREE + "off\n").encode(), cwd=tmp_path)
    answers = [json.loads(line) for line in done.stdout.decode().splitlines()]
    assert done.returncode == 0 and len(answers) == 5
    assert [a["card"]["kind"] for a in answers] == ["start", "start", "start", "act", "act"]
    assert answers[3]["line"] == 3


def test_only_whole_lines_count(tmp_path: Path) -> None:
    """A line without its end is not taken: exit code 2, the log holds what was acknowledged."""
    done = run("work", "job", "--json", given=(THREE + "of").encode(), cwd=tmp_path)
    assert done.returncode == 2 and b"cut short" in done.stderr
    assert len((tmp_path / "job").read_text(encoding="utf-8").splitlines()) == 3


def test_a_line_that_is_not_utf8_is_refused_and_the_job_goes_on(tmp_path: Path) -> None:
    """Said so, nothing logged, next line taken."""
    done = run("work", "job", "--json", given=THREE.encode() + b"\xff\xfe\noff\n", cwd=tmp_path)
    answers = [json.loads(line) for line in done.stdout.decode().splitlines()]
    assert "UTF-8" in answers[4]["refused"] and answers[5]["ok"]


def test_log_suspects_and_next_answer_for_a_job_on_disk(tmp_path: Path) -> None:
    """The same job asked by other commands, as text and as JSON."""
    run("work", "job", "--json", given=(THREE + "off\n").encode(), cwd=tmp_path)
    log = json.loads(run("log", "job", "--json", cwd=tmp_path).stdout)
    assert [x["text"] for x in log] == [*THREE.splitlines(), "off"]
    suspects = json.loads(run("suspects", "job", "--json", cwd=tmp_path).stdout)["suspects"]
    assert suspects and 0 < suspects[0]["odds"] < 1
    card = json.loads(run("next", "job", "--json", cwd=tmp_path).stdout)
    assert card["kind"] == "act" and card["do"] == "off"  # a new sitting: nobody knows how the set stands
    assert b"%" in run("suspects", "job", cwd=tmp_path).stdout


@pytest.mark.parametrize("name", ["dosing_controller.yaml", "laminator.yaml", "bread_maker.yaml", "stage_light_standby.yaml"])
def test_shipped_sheets_pass_the_check(name: str) -> None:
    """Every example sheet reads and lists its parts."""
    done = run("check", str(ROOT / "examples" / name), "--json")
    assert done.returncode == 0, done.stderr.decode()
    assert len(json.loads(done.stdout)["circuit"]["parts"]) > 5


def test_expect_prints_a_healthy_band_for_every_place(tmp_path: Path) -> None:
    """On the linear example: the 12 V rail within a few per cent."""
    rows = json.loads(run("expect", str(ROOT / "examples" / "dosing_controller.yaml"), "--json").stdout)
    rails = [r for r in rows if r["function"] == "v" and r["where"] == "+12"]
    assert rails and 11.0 < rails[0]["healthy"][0] < 12.0 < rails[0]["healthy"][1] < 13.0


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("unit: x\n", b"like 230V"),
        ("symptom: dead\n", b"unit"),
        ("unit: radio, 230V 50Hz, class II, 25W\nstart: liner 12V\n", b"linear"),
        ("unit: radio, 230V 50Hz, class II, 25W\nways:\n- L F1(T1A) N\n", b"N"),
        ("unit: radio, 230V 50Hz, class II, 25W\n\tstart: x\n", b"tab"),
    ],
)
def test_a_bad_sheet_says_where_and_what_to_do(tmp_path: Path, text: str, expected: bytes) -> None:
    """Exit code 2 and the place; shorted mains among them."""
    sheet = tmp_path / "s.yaml"
    sheet.write_text(text, encoding="utf-8")
    done = run("check", str(sheet))
    assert done.returncode == 2 and expected in done.stderr, done.stderr
    assert b"Traceback" not in done.stderr


def test_a_sheet_that_is_not_utf8_is_refused(tmp_path: Path) -> None:
    """Exit code 2."""
    sheet = tmp_path / "s.yaml"
    sheet.write_bytes(b"unit: radi\xf6, 230V 50Hz, class II, 25W\n")
    done = run("check", str(sheet))
    assert done.returncode == 2 and b"UTF-8" in done.stderr
