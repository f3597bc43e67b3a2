"""Which of the lines that a doubt offers is true, once the readings in question were taken again."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from hands import Taken
from meter import agree

SCALE = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6}
VALUE = re.compile(r"^(-?\d+(?:\.\d+)?)([pnumkM]?)(\d*)[A-Za-z]*$")


def true_line(offered: Mapping[str, str], again: Sequence[tuple[Taken, Taken]], *, plugged: bool, lamp: float | None) -> str:
    """The line to type; empty when the plain "no" needs none. again: (as written down, as measured again).

    An offered line that came true is typed; else, when a reading has turned out wrong, it is corrected unasked; else "no".
    """
    for key, line in offered.items():
        if key != "no" and line.strip() and _holds(line.strip(), again, plugged=plugged, lamp=lamp):
            return _completed(line, again)
    wrong = [(old, new) for old, new in again if not _same(old, new)]
    if wrong and len(again) == 1:
        return f"was {wrong[0][1].text}"
    return str(offered.get("no", "")).strip()


def _same(old: Taken, new: Taken) -> bool:
    return old.wander == new.wander if old.wander or new.wander else agree(old.probe.function, old.value, new.value)


def _holds(line: str, again: Sequence[tuple[Taken, Taken]], *, plugged: bool, lamp: float | None) -> bool:
    word, _, rest = line.partition(" ")
    if word == "was":
        stated = parse_value(rest)
        return any(not _same(old, new) and (stated is None or agree(new.probe.function, stated, new.value)) for old, new in again)
    if word == "black":
        net = rest.removeprefix("was ").strip()
        return any(old.actual.black == net and old.probe.black != net for old, _ in again)
    if word == "no":
        return any(not _same(old, new) for old, new in again)
    if word == "same":
        return all(_same(old, new) for old, new in again)
    if word in ("off", "unplugged"):
        return not plugged
    if word == "lamp":
        stated = parse_value(rest)
        return lamp is not None and stated is not None and abs(stated - lamp) < 0.5
    places = {old.probe.where for old, _ in again}
    return line in places  # a place alone, "read it again": true whenever it was read again


def _completed(line: str, again: Sequence[tuple[Taken, Taken]]) -> str:
    """A line that ends open gets the value as it was measured again."""
    stripped = line.strip()
    for old, new in again:
        if stripped in (old.probe.where, "was"):
            return f"{stripped} {new.text}"
    return stripped


def parse_value(text: str) -> float | None:
    """A typed value in SI: 0.43M, 4k7, 12V, OL; None for anything else."""
    word = text.strip().split(" ")[0] if text.strip() else ""
    if word == "OL":
        return float("inf")
    found = VALUE.match(word)
    if not found:
        return None
    whole, prefix, tail = found.groups()
    number = float(f"{whole}.{tail}") if tail and "." not in whole else float(whole)
    return number * SCALE.get(prefix, 1.0)
