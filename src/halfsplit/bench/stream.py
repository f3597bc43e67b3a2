"""Server-sent events of one job: the whole view after every change, so that who missed one has lost nothing."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from typing import Any

from halfsplit.bench.desk import OpenJob

PULSE = 4.0  # seconds without news after which a sign of life is sent
LOOK = 0.5  # seconds after which a server that is to stop is noticed


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

    async def take(self) -> list[tuple[str, dict[str, Any]]]:
        """What came in since, or nothing after a moment."""
        try:
            await asyncio.wait_for(self._news.wait(), LOOK)
        except TimeoutError:
            return []
        self._news.clear()
        out, self._small = self._small, []
        if self._view is not None:
            out, self._view = [*out, ("view", self._view)], None
        return out


async def events(job: OpenJob, device: str, name: str, stopping: Callable[[], bool]) -> AsyncIterator[str]:
    """The stream: first the view as it is, then every change; a pulse in between, so that a lost link is noticed."""
    feed = Feed(asyncio.get_running_loop())
    leave = await asyncio.to_thread(job.listen, feed.tell, device, name)
    try:
        feed.tell("view", job.view())
        silent = 0.0
        while not stopping():
            news = await feed.take()
            silent = 0.0 if news else silent + LOOK
            if news:
                yield "".join(f"event: {event}\ndata: {json.dumps(data, allow_nan=False)}\n\n" for event, data in news)
            elif silent >= PULSE:
                silent = 0.0
                yield "event: pulse\ndata: {}\n\n"
    finally:
        leave()
