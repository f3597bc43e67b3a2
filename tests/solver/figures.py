"""Published figures for tests: rows of a data file, and single numbers taken out of their printed text.

A number is given in the test and looked for in the row, so that a test cannot quote what the source does not say.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

DATA = Path(__file__).resolve().parent.parent / "published" / "data"


def rows(name: str) -> list[dict[str, str]]:
    """All rows of a data file."""
    return list(csv.DictReader((DATA / name).read_text(encoding="utf-8").splitlines()))


class Book:
    """Worked examples by id; every figure taken is checked to stand in the example's printed result."""

    def __init__(self, name: str) -> None:
        self.rows = {r["id"]: r for r in rows(name)}
        self.asked: set[str] = set()

    def figure(self, example: str, number: str) -> float:
        """The number as printed in the result of an example."""
        self.asked.add(example)
        text = self.rows[example]["result"]
        if not re.search(rf"(?<![\d.]){re.escape(number)}(?![\d])", text):
            raise AssertionError(f"{example} prints {text!r}, not {number}")
        return float(number)
