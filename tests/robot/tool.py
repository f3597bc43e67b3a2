"""The tool at the other end of a line: a process, or an object in this process, with the same line in and JSON out."""

from __future__ import annotations

import json
import queue
import subprocess
import threading
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import IO, Any, Protocol

Answer = dict[str, Any]


class ToolFailed(Exception):
    """The tool died, kept silent or answered something that is not one JSON object."""


class Tool(Protocol):
    """Line in, JSON object out. hello is the object that comes before any input."""

    hello: Answer

    def send(self, line: str) -> Answer: ...

    def close(self) -> None: ...


class ProcessTool:
    """`halfsplit work JOB --json` or anything that speaks like it. Raises ToolFailed when it falls silent."""

    def __init__(
        self, argv: Sequence[str], *, cwd: str | None = None, env: Mapping[str, str] | None = None, patience: float = 120.0
    ) -> None:
        self.patience = patience
        self.process = subprocess.Popen(
            list(argv), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8",
            bufsize=1, cwd=cwd, env=dict(env) if env is not None else None,
        )
        self._out: queue.Queue[str | None] = queue.Queue()
        self._complaints: list[str] = []
        assert self.process.stdout is not None and self.process.stderr is not None
        self._readers = [
            threading.Thread(target=self._drain, args=(self.process.stdout, self._out.put), daemon=True),
            threading.Thread(target=self._drain, args=(self.process.stderr, self._complain), daemon=True),
        ]
        for reader in self._readers:
            reader.start()
        try:
            self.hello = self._take("the start")
        except ToolFailed:
            self.close(0.2)
            raise

    @staticmethod
    def _drain(stream: IO[str], put: Callable[[str | None], None]) -> None:
        with stream:
            for line in stream:
                put(line)
        put(None)

    def _complain(self, line: str | None) -> None:
        if line is not None:
            self._complaints = [*self._complaints[-30:], line]

    def _take(self, after: str) -> Answer:
        try:
            line = self._out.get(timeout=self.patience)
        except queue.Empty:
            raise ToolFailed(f"no answer within {self.patience:.0f} s to {after}") from None
        if line is None:
            raise ToolFailed(f"the process ended after {after}: {''.join(self._complaints)[-1500:]}")
        return as_answer(line, after)

    def send(self, line: str) -> Answer:
        assert self.process.stdin is not None
        try:
            self.process.stdin.write(line + "\n")
            self.process.stdin.flush()
        except (BrokenPipeError, ValueError) as gone:
            raise ToolFailed(f"the process took no more lines at {line!r}: {''.join(self._complaints)[-1500:]}") from gone
        return self._take(repr(line))

    def close(self, patience: float = 5.0) -> None:
        """Ends the process; only the one that was started here."""
        if self.process.stdin is not None and not self.process.stdin.closed:
            try:
                self.process.stdin.close()
            except BrokenPipeError:
                pass
        try:
            self.process.wait(timeout=patience)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        for reader in self._readers:
            reader.join(timeout=5)


class BenchTime:
    """A clock for a tool in this process: the seconds of the technician's hands, not those of the computer. It moves on by a tick
    with each look, or as told."""

    tick = timedelta(milliseconds=1)

    def __init__(self) -> None:
        self.now = datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += self.tick
        return self.now

    def wait(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)


class ObjectTool:
    """The same protocol without a process: first() gives the object before any input, send(line) the others.

    pass_time: is told the seconds that went by at the bench before each line.
    """

    def __init__(
        self, first: Callable[[], Any], send: Callable[[str], Any], close: Callable[[], None] = lambda: None,
        pass_time: Callable[[float], None] = lambda seconds: None,
    ) -> None:
        self._send, self._close, self.pass_time = send, close, pass_time
        self.hello = as_answer(json.dumps(first()), "the start")

    def send(self, line: str) -> Answer:
        return as_answer(json.dumps(self._send(line)), repr(line))

    def close(self) -> None:
        self._close()


def as_answer(text: str, after: str) -> Answer:
    """One JSON object, or ToolFailed with what came instead."""
    try:
        data = json.loads(text)
    except json.JSONDecodeError as bad:
        raise ToolFailed(f"not JSON after {after}: {text[:200]!r} ({bad})") from None
    if not isinstance(data, dict):
        raise ToolFailed(f"not one JSON object after {after}: {text[:200]!r}")
    return data
