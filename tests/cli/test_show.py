"""What an answer looks like as text."""

from __future__ import annotations

from halfsplit.cli.show import show


def test_two_faults_are_listed_where_no_single_one_is_left():
    """Once a pair has all the odds the list of single suspects is empty, and the pair is what there is to see."""
    pair = {"parts": ["MOV1", "D2"], "ways": ["short", "short"], "odds": 0.52, "root": None}
    answer = {"ok": True, "state": {}, "suspects": [], "pairs": [pair], "nothing_wrong": 0.0, "not_on_sheet": 0.01}
    text = show(answer)
    assert "52.0 %" in text and "MOV1 short" in text and "D2 short" in text
