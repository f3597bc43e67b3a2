"""The README is run: each block of shell is executed, and the output shown under it has to be what came.

All blocks run in order in one empty folder, as a reader would do them. A line of three dots in a shown
output stands for any number of lines. `python tests/test_readme.py` prints the README with every shown
output replaced by what really came; reading it before keeping it is the writer's task.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
DEV_COMMANDS = ("./dev demo", "./dev test")


@dataclass(frozen=True)
class Block:
    """One shell block. shown: the text block that follows it, None where there is none. line: counts from 1."""

    line: int
    script: str
    shown: str | None
    shown_span: tuple[int, int] | None


def blocks(text: str) -> tuple[Block, ...]:
    """The shell blocks of a Markdown text, each with the text block under it, if only blank lines lie between."""
    fences = list(FENCE.finditer(text))
    found = []
    for here, after in zip(fences, [*fences[1:], None]):
        if here[1] != "sh" or here[2].startswith("./dev"):
            continue
        joined = after is not None and after[1] == "text" and not text[here.end() : after.start()].strip()
        shown, span = (after[2], after.span(2)) if joined and after is not None else (None, None)
        found.append(Block(text.count("\n", 0, here.start()) + 1, here[2], shown, span))
    return tuple(found)


def matches(shown: str, came: str) -> bool:
    """Whether the output that came is the one shown; trailing blanks don't count, a line "..." skips lines."""
    pieces = [r"(?:.*\n)*?" if line.strip() == "..." else re.escape(line.rstrip()) + r"\n" for line in shown.splitlines()]
    lines = "".join(line.rstrip() + "\n" for line in came.rstrip().splitlines())
    return re.fullmatch("".join(pieces), lines) is not None


def run(script: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run one block in a plain terminal of 100 columns; the project's own scripts come first on the path."""
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    env |= {
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "COLUMNS": "100", "NO_COLOR": "1", "TERM": "dumb", "PYTHONUTF8": "1",
    }  # fmt: skip
    return subprocess.run(
        ["sh", "-eu", "-c", script], cwd=folder, env=env, capture_output=True, text=True, timeout=300, stdin=subprocess.DEVNULL
    )


def test_every_shell_block_of_the_readme_runs_and_prints_what_is_shown(tmp_path: Path) -> None:
    """Each block ends without an error, says nothing on standard error, and prints the text block under it."""
    found = blocks((ROOT / "README.md").read_text(encoding="utf-8"))
    assert found, "README.md has no block marked sh: the tour is missing"
    for block in found:
        done = run(block.script, tmp_path)
        report = f"README.md:{block.line}\n{block.script}exit {done.returncode}\n{done.stdout}{done.stderr}"
        assert done.returncode == 0, report
        assert done.stderr == "", report
        if block.shown is not None:
            assert matches(block.shown, done.stdout), f"{report}--- but shown:\n{block.shown}"


def test_the_tour_shows_outputs_and_every_command() -> None:
    """A tour without outputs would let the first test pass on nothing; each command of the tour stands in it."""
    found = blocks((ROOT / "README.md").read_text(encoding="utf-8"))
    assert sum(block.shown is not None for block in found) >= 4
    scripts = "".join(block.script for block in found)
    missing = [word for word in ("work", "check", "expect", "suspects", "next", "log") if f"halfsplit {word}" not in scripts]
    assert missing == []


@pytest.mark.parametrize("command", DEV_COMMANDS)
def test_the_two_commands_stand_in_the_readme_and_in_the_usage_of_dev(command: str) -> None:
    """What the README promises first is what `./dev help` offers."""
    usage = subprocess.run([ROOT / "dev", "help"], capture_output=True, text=True, check=True, timeout=30).stdout
    assert command in (ROOT / "README.md").read_text(encoding="utf-8")
    assert command in usage


def test_a_shown_output_is_compared_line_by_line() -> None:
    """A changed, missing or added line is found; three dots skip lines, but never the end of the text."""
    assert matches("a\nb\n", "a  \nb\n\n")
    assert matches("a\n...\nd\n", "a\nb\nc\nd\n")
    assert matches("a\n...\n", "a\nb\n")
    assert not matches("a\nb\n", "a\nc\n")
    assert not matches("a\n", "a\nb\n")
    assert not matches("a\n...\nd\n", "a\nb\nd\ne\n")
    assert not matches("", "a\n")


def test_only_a_text_block_right_under_a_shell_block_is_its_output() -> None:
    """Blocks of other kinds, blocks of ./dev, and text blocks after prose are left alone."""
    text = "```sh\n./dev demo\n```\n```sh\nA\n```\n\n```text\nout\n```\n```sh\nB\n```\nprose\n```text\nno\n```\n```yaml\nC\n```\n"
    assert [(b.line, b.script, b.shown) for b in blocks(text)] == [(4, "A\n", "out\n"), (11, "B\n", None)]


def refreshed(text: str) -> str:
    """The same Markdown text with every shown output, or a place for it, filled from a real run."""
    with tempfile.TemporaryDirectory() as folder:
        outputs = [(block, run(block.script, Path(folder)).stdout.rstrip() + "\n") for block in blocks(text)]
    for block, came in reversed(outputs):
        if block.shown_span is None:
            at = text.index(block.script + "```") + len(block.script) + 3
            text = f"{text[:at]}\n\n```text\n{came}```{text[at:]}"
        else:
            text = text[: block.shown_span[0]] + came + text[block.shown_span[1] :]
    return text


if __name__ == "__main__":
    sys.stdout.write(refreshed((ROOT / "README.md").read_text(encoding="utf-8")))
