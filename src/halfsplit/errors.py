"""What can go wrong, as one small tree.

HalfsplitError
 +-- InputError      the user can put it right: says what, where, and the remedy; exit code 2
 |    +-- SheetError     at a line and column of a sheet
 |    +-- EntryError     in a reading line
 |    +-- UnknownName    a net, part, place or word that nobody knows; shows the nearest names
 |    +-- DomainError    a number outside what the quantity can be
 |    +-- Refused        safety says no; there is no way round
 +-- ModelLimit      the question is sound, but this program cannot answer it
Anything else is a bug and is not caught.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class HalfsplitError(Exception):
    """Root of everything this program raises on purpose."""


class InputError(HalfsplitError):
    """Something the user wrote; the text names the place and the remedy."""


class DomainError(InputError):
    """A number outside what its quantity can be."""


class SheetError(InputError):
    """A fault in a sheet. line and column count from 1; None where the whole sheet is meant."""

    def __init__(self, text: str, *, line: int | None = None, column: int | None = None, name: str = "sheet") -> None:
        self.line, self.column, self.name = line, column, name
        where = name if line is None else f"{name}:{line}" if column is None else f"{name}:{line}:{column}"
        super().__init__(f"{where}: {text}")


class EntryError(InputError):
    """A reading line that could not be taken; nothing of it was logged."""


class Refused(InputError):
    """Safety says no. The text says why and what would make it possible, if anything."""


class UnknownName(InputError):
    """A net, part, place or word that is not known here; the nearest names are shown."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        self.kind, self.name, self.known = kind, name, tuple(known)
        low = {k.lower(): k for k in self.known}
        near = [low[n] for n in difflib.get_close_matches(name.lower(), low, n=3, cutoff=0.5)]
        hint = f"did you mean {' or '.join(near)}?" if near else "known: " + ", ".join(self.known[:12])
        super().__init__(f"no {kind} {name!r} here; {hint}")


class ModelLimit(HalfsplitError):
    """A sound question that this program cannot answer; says why."""
