"""A look over the raw lines of a sheet, before YAML sees them.

YAML drops or bends some lines without a word (`wire #3 loose`, `- ? C7`, `- !R1`) and names others in a parser's
language. Whatever it would misread is said here, at its line and column, in the bench's words.
"""

from __future__ import annotations

import re

from halfsplit.errors import SheetError

_LINE = re.compile(
    r"(?P<indent> *)(?:(?P<dash>-)(?P<gap> +|$)(?P<item>.*)|(?P<key>[A-Za-z0-9][\w .-]*?) *:(?P<blank> +|$)(?P<rest>.*))"
)
_LEADERS = {
    "*": "a star",
    "%": "a per cent sign",
    "`": "a backtick",
    "?": "a question mark",
    "&": "an and sign",
    "!": "an exclamation mark",
    "@": "an at sign",
    "|": "a bar",
    ">": "an arrow",
    "[": "a bracket",
    "]": "a bracket",
    "{": "a brace",
    "}": "a brace",
    '"': "a quotation mark",
    "'": "a quotation mark",
    ",": "a comma",
}
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]")
_COMMENT = re.compile(r"(?:^|(?<= ))#")


def look_over(lines: list[str], name: str) -> None:
    """Raises SheetError at the first line that YAML would drop, bend or blame on its neighbour."""
    for number, line in enumerate(lines, start=1):
        _characters(line, number, name)
        body = line.strip()
        if not body or body.startswith("#"):
            continue
        _comment(line, number, name)
        _shape(line, number, name)


def _characters(line: str, number: int, name: str) -> None:
    if "\t" in line:
        raise SheetError("a tab stands here; use blanks", line=number, column=line.index("\t") + 1, name=name)
    if bad := _CONTROL.search(line):
        raise SheetError(
            f"character {bad[0]!r} cannot stand in a sheet; delete it", line=number, column=bad.start() + 1, name=name
        )


def _comment(line: str, number: int, name: str) -> None:
    """`# not traced` is a remark; `#3` would silently cut the line."""
    for hit in _COMMENT.finditer(line):
        if line[hit.end() : hit.end() + 1] not in ("", " "):
            raise SheetError(
                f"{line[hit.start() :].split()[0]!r} would cut off the rest of the line; "
                f"write no. instead of #, or a blank after # for a remark",
                line=number,
                column=hit.start() + 1,
                name=name,
            )
        return


def _shape(line: str, number: int, name: str) -> None:
    """The line is `key:`, `key: words`, or `- words`, and nothing in it starts a YAML trick."""
    indent = len(line) - len(line.lstrip(" "))
    first = line[indent]
    if line.startswith(("---", "...")) and indent == 0:
        raise SheetError(
            f"{line[:3]!r} at the start of a line ends the sheet; delete it, or write it after `- `",
            line=number,
            column=1,
            name=name,
        )
    if first in _LEADERS:
        raise SheetError(
            f"a line cannot start with {_LEADERS[first]} ({first}); start it with a word or `- `",
            line=number,
            column=indent + 1,
            name=name,
        )
    m = _LINE.fullmatch(line)
    if m is None:
        raise _no_shape(line, indent, number, name)
    text, column = (m["item"], m.start("item")) if m["dash"] else (m["rest"], m.start("rest"))
    _words(text.split(" #")[0].rstrip() if not text.startswith("#") else "", number, column, name)


def _no_shape(line: str, indent: int, number: int, name: str) -> SheetError:
    body = line[indent:]
    if glued := re.match(r"(-?)([A-Za-z]\w*):(?=\S)", body):
        return SheetError(
            f"a blank is missing after the colon of {glued[0]!r}; write {glued[2]!r}, colon, blank",
            line=number,
            column=indent + glued.end(),
            name=name,
        )
    if re.match(r"-\S", body):
        return SheetError("a blank is missing after the dash; write `- ` first", line=number, column=indent + 2, name=name)
    return SheetError(
        f"{body[:24]!r} is neither `key: words` nor `- words`; a line cannot go on in the next one",
        line=number,
        column=indent + 1,
        name=name,
    )


def _words(text: str, number: int, column: int, name: str) -> None:
    """What follows the key or the dash."""
    if not text:
        return
    if text[0] in _LEADERS:
        raise SheetError(
            f"{text.split()[0]!r} starts with {_LEADERS[text[0]]} ({text[0]}), which would change the line; "
            "put the designator or the net first",
            line=number,
            column=column + 1,
            name=name,
        )
    if text.startswith("- ") or text == "-":
        raise SheetError("a second dash stands here; one `- ` is enough", line=number, column=column + 1, name=name)
    if colon := re.search(r":(?= |$)", text):
        raise SheetError(
            "a colon followed by a blank stands inside the words; leave it out (`seen R21 charred`)",
            line=number,
            column=column + colon.start() + 1,
            name=name,
        )
    if glued := re.match(r"([A-Za-z]+[0-9]+):(?=\S)", text):
        raise SheetError(
            f"{glued[1]}: takes no colon; write {glued[1]}, a blank, then the rest",
            line=number,
            column=column + glued.end(),
            name=name,
        )
