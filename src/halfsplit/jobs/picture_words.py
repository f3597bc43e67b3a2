"""Words that the text twins of pictures share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


def percent(odds: float) -> str:
    """Odds as they are read aloud."""
    return "under 1 %" if 0 < odds < 0.01 else "over 99 %" if 0.99 < odds < 1 else f"{100 * odds:.0f} %"


def refused(why: str) -> dict[str, Any]:
    """What stands in place of a picture that can't be shown."""
    return {"refused": why, "text": why}


def named(words: Sequence[str], joint: str = "and") -> str:
    """One, two, or several in a row."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {joint} {words[-1]}"


def told_apart(healthy: str, suspects: Sequence[dict[str, Any]], phrases: Sequence[str]) -> list[tuple[str, str]]:
    """(who, what) of the suspects, those that do the same together, each with its odds; what is empty where a healthy set does it
    too.

    healthy: what that does; phrases: what each suspect does."""
    groups: dict[str, list[str]] = {}
    for p, phrase in zip(suspects, phrases, strict=True):
        groups.setdefault("" if phrase == healthy else phrase, []).append(f"{p['name']} ({percent(p['odds'])})")
    return [(named(names), phrase) for phrase, names in groups.items()]


__all__ = ["named", "percent", "refused", "told_apart"]
