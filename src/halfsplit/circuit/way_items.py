"""A way cut into its items: nets, parts with the two legs that are passed, single pins, `//`, `...`."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from halfsplit.circuit.notation import DESIGNATOR
from halfsplit.circuit.sheet import Item

_NET = re.compile(r"[A-Za-z0-9+\-_~][\w+\-~/]*")


@dataclass(frozen=True)
class WayItem:
    """One item of a way. kind: net | part | gap | across. legs: what follows the dot. spec: what stands in brackets.

    doubtful: a ? stands behind the name. offset: where in the line.
    """

    kind: str
    name: str
    item: Item
    offset: int
    legs: str = ""
    spec: str | None = None
    doubtful: bool = False


def cut_way(item: Item, is_part: Callable[[str], bool]) -> list[WayItem]:
    """The items of one line. is_part tells a known part from a net where the name alone does not (HTR, bulk-cap).

    Raises: SheetError at the item.
    """
    out: list[WayItem] = []
    for text, offset in _tokens(item):
        if text.startswith("("):
            if not out or out[-1].kind != "part" or out[-1].spec is not None:
                raise item.fault("brackets belong to the part before them; write them behind its designator", offset)
            last = out.pop()
            out.append(WayItem("part", last.name, item, last.offset, last.legs, _inside(text, item, offset), last.doubtful))
        elif text in ("//", "..."):
            out.append(WayItem("across" if text == "//" else "gap", text, item, offset))
        else:
            out.append(_named(text, item, offset, is_part))
    return out


def _tokens(item: Item) -> list[tuple[str, int]]:
    """Words apart by blanks; a bracket holds its blanks together."""
    out: list[tuple[str, int]] = []
    depth, begin = 0, None
    for at, char in enumerate(item.text + " "):
        if char == "(":
            depth += 1
        elif char == ")":
            depth -= 1
        if depth not in (0, 1):
            raise item.fault("a bracket is missing or too many; values stand as R1(4k7)", at)
        if char == " " and depth == 0:
            if begin is not None:
                out.append((item.text[begin:at], begin))
            begin = None
        elif begin is None:
            begin = at
    if depth:
        raise item.fault("a bracket is not closed; values stand as R1(4k7)", item.text.rindex("("))
    return out


def _inside(text: str, item: Item, offset: int) -> str:
    if not text.endswith(")"):
        raise item.fault(f"{text!r}: a blank belongs after the bracket", offset)
    return text[1:-1].strip()


def _named(text: str, item: Item, offset: int, is_part: Callable[[str], bool]) -> WayItem:
    head, bracket, _ = text.partition("(")
    spec = _inside(text[len(head) :], item, offset) if bracket else None
    doubtful = head.endswith("?")
    name, dot, legs = head.removesuffix("?").partition(".")
    if dot and re.fullmatch(r"[+-]?[0-9]*", name) and legs[:1].isdigit():  # +3.3 is a rail, not a pin
        name, dot, legs = f"{name}.{legs}", "", ""
    if dot and not legs:
        raise item.fault(f"{text!r}: name the legs after the dot, like Q1.ce", offset)
    if bracket or dot or DESIGNATOR.fullmatch(name) or is_part(name):
        if not re.fullmatch(r"[A-Za-z][\w/-]*", name):
            raise item.fault(f"{text!r} is no designator; write it like R1(4k7)", offset)
        return WayItem("part", name, item, offset, legs, spec, doubtful)
    if "," in text or ";" in text:
        raise item.fault(
            f"{text!r}: items of a way stand apart by blanks only; leave out the {'comma' if ',' in text else 'semicolon'}",
            offset,
        )
    if not _NET.fullmatch(name) and not re.fullmatch(r"[+-]?[0-9]+\.[0-9]+\w*", name):
        raise item.fault(f"{text!r} is no name of a net; use letters, digits, + and -", offset)
    return WayItem("net", name, item, offset, doubtful=doubtful)
