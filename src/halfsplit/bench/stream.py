"""Server-sent events of one job: the whole view after every change, so that who missed one has lost nothing."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from typing import Any

from halfsplit.bench.desk import OpenJob

PULSE = 4.0  # seconds without news after which a sign of life is sent
LOOK = 0.5  # seconds between looks whether the server is to stop; well below what it waits for open streams then


class Feed:
    """What is still to be sent to one device: the newest view only, and the small events in order."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop
        self._news = asyncio.Event()
        self._view: dict[str, Any] | None = None
        self._small: list[tuple[str, dict[str, Any]]] = []

    def tell(self, event: str, data: dict[str, Any]) -> None:
        """From any thread."""
        self._loop.call_soon_threadsafe(self._put, event, data)

    def _put(self, event: str, data: dict[str, Any]) -> None:
        if event == "view":
            self._view = data
        else:
            self._small = [*self._small[-20:], (event, data)]
        self._news.set()

    async def take(self, patience: float) -> list[tuple[str, dict[str, Any]]]:
        """What came in since, or nothing after so many seconds."""
        try:
            await asyncio.wait_for(self._news.wait(), patience)
        except TimeoutError:
            return []
        self._news.clear()
        out, self._small = self._small, []
        if self._view is not None:
            out, self._view = [*out, ("view", self._view)], None
        return out


async def events(job: OpenJob, device: str, name: str, stopping: Callable[[], bool]) -> AsyncIterator[str]:
    """The stream: first the view as it is, then every change; a pulse in between, so that a lost link is noticed."""
    loop = asyncio.get_running_loop()
    feed = Feed(loop)
    coming = asyncio.ensure_future(asyncio.to_thread(job.listen, feed.tell, device, name))
    try:
        leave = await asyncio.shield(coming)
    except asyncio.CancelledError:  # gone before it had come: it must not be held for there ever after
        coming.add_done_callback(lambda done: loop.run_in_executor(None, done.result()))
        raise
    try:
        feed.tell("view", job.view())
        last = loop.time()
        while not stopping():
            news = await feed.take(min(LOOK, PULSE))
            if news:
                yield "".join(f"event: {event}\ndata: {json.dumps(data, allow_nan=False)}\n\n" for event, data in news)
            elif loop.time() - last >= PULSE:
                yield "event: pulse\ndata: {}\n\n"
            else:
                continue
            last = loop.time()
    finally:
        loop.run_in_executor(None, leave)  # it may have to wait for the log; the loop must not
