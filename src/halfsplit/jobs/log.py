"""The job log: one text line an entry, added at the end and never changed.

    2025-03-04T10:15:30.120+01:00 7 +24 24.0
    2025-03-04T10:15:58.004+01:00 8/k3f9a27c out 5.02

The mark after the number, if there is one, names the message that brought the line: a message that is sent again because its
answer was lost is known by it and counts once.
A line counts when its newline is in the file; `append` returns only after it is on the disk. What a crash
left of a line stays where it is: the next line takes the same number again, and that is how a reader knows
that the piece before it was never acknowledged.
"""

from __future__ import annotations

import codecs
import fcntl
import os
import re
import threading
import time
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from halfsplit.errors import EntryError, InputError

LONGEST = 1000  # characters; a way across a whole board stays well below
_LOCK_WAIT = 3.0  # seconds; an append takes milliseconds, so a longer wait means a program that hangs
KEY = re.compile(r"[0-9a-z]{8,32}")
_SHAPE = re.compile(r"(?P<time>[0-9]{4}-[0-9]{2}-[0-9]{2}T\S+) (?P<number>[0-9]{1,9})(?:/(?P<key>[0-9a-z]{8,32}))? (?P<text>.+)", re.DOTALL)

Clock = Callable[[], datetime]


@dataclass(frozen=True)
class LogLine:
    """One acknowledged line: its number from 1, the time with its UTC offset, the text as typed, the message that brought it."""

    number: int
    time: datetime
    text: str
    key: str | None = None


@dataclass(frozen=True)
class TornLine:
    """A piece that a crash or a full disk left behind. at: its line in the file, from 1. Never counted."""

    at: int
    piece: str


@dataclass(frozen=True)
class LogText:
    """Everything in a log file: what counts, and what was left torn."""

    lines: tuple[LogLine, ...]
    torn: tuple[TornLine, ...]


def check_line(text: str) -> str:
    """The text itself, if it is one plain line. Raises EntryError naming the character and the remedy."""
    if not text.strip():
        raise EntryError("nothing was typed; write a reading like `+24 24.0`, or a word like `off`")
    if len(text) > LONGEST:
        raise EntryError(f"the line has {len(text)} characters, {LONGEST} at most; split it")
    for at, char in enumerate(text, start=1):
        if unicodedata.category(char) in ("Cc", "Cs", "Zl", "Zp"):
            name = {"\n": "a line end", "\r": "a line end", "\t": "a tab"}.get(char, f"the control character {ascii(char)}")
            raise EntryError(f"{name} stands at place {at} of the line; type one plain line with blanks only")
    return text


def read_log(data: bytes, name: str) -> LogText:
    """What the bytes of a log file hold. Raises InputError naming file and line where it is not a log."""
    pieces = data.split(b"\n")
    lines: list[LogLine] = []
    torn: list[TornLine] = []
    counted_at = 0
    for at, piece in enumerate(pieces, start=1):
        text, whole = _decode(piece, name, at)
        line = _parse(text) if whole and at < len(pieces) else None
        if line is None:
            torn += [TornLine(at, text)] if text else []
            continue
        if lines and line.number == lines[-1].number:  # the one before lost its end, so its number was free again
            torn.append(TornLine(counted_at, lines.pop().text))
        if line.number != len(lines) + 1:
            raise InputError(
                f"{name}:{at}: the line has number {line.number}, but {len(lines) + 1} is due; the file was changed by "
                "hand or damaged. It is kept as it is; restore a copy or start a new job"
            )
        lines.append(line)
        counted_at = at
    return LogText(tuple(lines), tuple(sorted(torn, key=lambda t: t.at)))


def _decode(piece: bytes, name: str, at: int) -> tuple[str, bool]:
    """The text, and whether no character was cut at its end (a crash may stop within one)."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        text = decoder.decode(piece)
    except UnicodeDecodeError as bad:
        raise InputError(
            f"{name}:{at}: byte {bad.start + 1} of the line is not UTF-8 text, so this is no job log or it is damaged; "
            "the file is kept as it is; restore a copy or start a new job"
        ) from None
    cut = bool(decoder.getstate()[0])
    return (text + "\N{REPLACEMENT CHARACTER}" if cut else text), not cut


def _parse(text: str) -> LogLine | None:
    """The line, or None where it is only a piece of one."""
    shape = _SHAPE.fullmatch(text)
    if shape is None:
        return None
    try:
        when = datetime.fromisoformat(shape["time"])
        check_line(shape["text"])
    except (ValueError, EntryError):
        return None
    return LogLine(int(shape["number"]), when, shape["text"], shape["key"]) if when.utcoffset() is not None else None


def _local_now() -> datetime:
    return datetime.now().astimezone()


class JobLog:
    """An append-only text log. Several programs may hold the same file; their lines never mix."""

    def __init__(self, path: Path, clock: Clock) -> None:
        self.path = path
        self._clock = clock
        self._guard = threading.Lock()
        self._seen: bytes = b""
        self._text = LogText((), ())

    @classmethod
    def open(cls, path: str | os.PathLike[str], clock: Clock = _local_now) -> JobLog:
        """Open the log, making the file if it is not there.

        clock returns the time with its UTC offset. Raises InputError where the file cannot be had or is no log.
        """
        log = cls(Path(path), clock)
        try:
            log._make()
        except OSError as bad:
            raise InputError(f"{log.path}: {bad.strerror}; name a job file in a folder that may be written") from None
        log.read()
        return log

    def append(self, text: str) -> int:
        """Put one line at the end and on the disk; its number. Raises EntryError or InputError; then it does not count."""
        return self.append_all([text])

    def append_all(self, texts: Sequence[str], key: str | None = None) -> int:
        """The same for lines that belong together, in one write; number of the last. key: of the message, 8 to 32 of a-z and 0-9."""
        for text in texts:
            check_line(text)
        if key is not None and not KEY.fullmatch(key):
            raise EntryError(f"the message's mark {key[:40]!r} isn't 8 to 32 small letters and digits; send it with a proper one")
        now = self._clock()
        if now.utcoffset() is None:
            raise ValueError("the clock of a job log must carry its UTC offset")
        with self._locked(fcntl.LOCK_EX) as handle:
            last = len(self._refresh(handle).lines)
            when, mark = now.isoformat(timespec="milliseconds"), f"/{key}" if key else ""
            lines = "".join(f"{when} {number}{mark} {text}\n" for number, text in enumerate(texts, last + 1)).encode()
            fresh = b"\n" if self._seen and not self._seen.endswith(b"\n") else b""
            _write_all(handle, fresh + lines)
            os.fsync(handle)
            self._refresh(handle)
        return last + len(texts)

    def has(self, key: str) -> bool:
        """Whether a message with this mark was taken."""
        return any(line.key == key for line in self.lines())

    def lines(self) -> tuple[LogLine, ...]:
        """Every line that counts, in order."""
        return self.read().lines

    def torn(self) -> tuple[TornLine, ...]:
        """Pieces that a crash left; they stay in the file and count for nothing."""
        return self.read().torn

    def read(self) -> LogText:
        """The whole log as it stands in the file now."""
        with self._locked(fcntl.LOCK_SH) as handle:
            return self._refresh(handle)

    def _make(self) -> None:
        try:
            handle = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o644)
        except FileExistsError:
            return
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
        folder = os.open(self.path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)  # else the name itself may be lost with the power
        finally:
            os.close(folder)

    @contextmanager
    def _locked(self, how: int) -> Iterator[int]:
        """The open file, locked against other programs and threads."""
        with self._guard:
            try:
                flags = os.O_RDWR | os.O_APPEND if how == fcntl.LOCK_EX else os.O_RDONLY
                handle = os.open(self.path, flags)
                try:
                    _wait_for_lock(handle, how, self.path)
                    yield handle  # closing gives the lock back
                finally:
                    os.close(handle)
            except OSError as bad:
                raise InputError(
                    f"{self.path}: {bad.strerror or bad}; nothing was acknowledged. Put that right and enter the line again"
                ) from bad

    def _refresh(self, handle: int) -> LogText:
        """Read what is new; everything again if the file is not a continuation of what was read before."""
        data = _read_all(handle)
        if data != self._seen:
            self._text = read_log(data, str(self.path))
            self._seen = data
        return self._text


def _wait_for_lock(handle: int, how: int, path: Path) -> None:
    give_up = time.monotonic() + _LOCK_WAIT
    while True:
        try:
            return fcntl.flock(handle, how | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > give_up:
                raise InputError(
                    f"{path}: another program has held the log for {_LOCK_WAIT:g} s; the line does not count. "
                    "Close the other program and enter it again"
                ) from None
            time.sleep(0.002)


def _write_all(handle: int, data: bytes) -> None:
    while data:
        data = data[os.write(handle, data) :]


def _read_all(handle: int) -> bytes:
    os.lseek(handle, 0, os.SEEK_SET)
    pieces = []
    while piece := os.read(handle, 1 << 20):
        pieces.append(piece)
    return b"".join(pieces)
