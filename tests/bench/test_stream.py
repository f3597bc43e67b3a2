"""The event stream: the view first, a sign of life, never more than a slow reader needs."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator
from typing import Any

import pytest

from bench_support import HERE, Hand, settled, until
from halfsplit.bench import stream
from halfsplit.bench.desk import OpenJob
from halfsplit.bench.stream import Feed, events


def read(text: str) -> list[tuple[str, Any]]:
    """Server-sent events as pairs of name and data."""
    out = []
    for block in text.split("\n\n"):
        lines = dict(line.split(": ", 1) for line in block.splitlines())
        out += [(lines["event"], json.loads(lines["data"]))] if lines else []
    return out


async def some(feed: AsyncIterator[str], wanted: str) -> list[tuple[str, Any]]:
    """Events up to the first one of this name."""
    got: list[tuple[str, Any]] = []
    async with asyncio.timeout(20):
        async for text in feed:
            got += read(text)
            if any(event == wanted for event, _ in got):
                return got
    return got


def test_the_view_comes_first_and_the_device_is_there(job: OpenJob) -> None:
    """Whoever joins late has lost nothing; the device counts as there until its link ends."""

    async def look() -> None:
        feed = events(job, HERE, "bench tablet", lambda: False)
        first = await some(feed, "view")
        assert [event for event, _ in first] == ["view"] and first[0][1]["job"] == "1-night-light"
        assert job.view()["holder"] == {"device": HERE, "name": "bench tablet", "there": True}
        await feed.aclose()

    asyncio.run(look())
    until(lambda: not job.view()["holder"]["there"], "the device is gone")
    assert job._listeners == []


def test_what_is_entered_comes_to_everybody(job: OpenJob) -> None:
    """First that it was taken, then what it means."""

    async def look() -> list[tuple[str, Any]]:
        feed = events(job, HERE, "", lambda: False)
        await some(feed, "view")
        hand = Hand(job)
        await asyncio.to_thread(settled, job)
        await asyncio.to_thread(hand.enter, "off", key="k3f9a27c")
        got = await some(feed, "taken")
        while not any(e == "view" and d["answer"] and d["answer"]["state"]["power"] == "unplugged" for e, d in got):
            got += await some(feed, "view")
        await feed.aclose()
        return got

    got = asyncio.run(look())
    assert ("taken", {"key": "k3f9a27c"}) in got


def test_a_silent_stream_gives_signs_of_life(job: OpenJob, monkeypatch: pytest.MonkeyPatch) -> None:
    """So that a lost link is noticed by who waits for them."""
    settled(job)
    monkeypatch.setattr(stream, "PULSE", 0.02)

    async def look() -> list[tuple[str, Any]]:
        feed = events(job, HERE, "", lambda: False)
        got = await some(feed, "pulse")
        await feed.aclose()
        return got

    assert asyncio.run(look())[-1] == ("pulse", {})


def test_the_stream_ends_when_the_server_stops(job: OpenJob, monkeypatch: pytest.MonkeyPatch) -> None:
    """Long before a sign of life is due, so that the server has not to wait for anybody who looks on."""
    monkeypatch.setattr(stream, "LOOK", 0.02)
    stopping: list[bool] = []
    settled(job)

    async def look() -> None:
        async with asyncio.timeout(stream.PULSE / 2):
            async for _ in events(job, HERE, "", lambda: bool(stopping)):
                stopping.append(True)

    asyncio.run(look())
    until(lambda: not job._listeners, "nobody is listened to")


def test_a_link_that_is_cut_before_it_was_made_is_not_held_for_one(job: OpenJob, monkeypatch: pytest.MonkeyPatch) -> None:
    """Else the device would count as there for ever and nobody could take the probes over."""
    listen = job.listen

    def slow(*args: Any) -> Any:
        time.sleep(0.1)
        return listen(*args)

    monkeypatch.setattr(job, "listen", slow)

    async def cut() -> None:
        feed = events(job, HERE, "", lambda: False)
        task = asyncio.ensure_future(anext(feed))
        await asyncio.sleep(0.02)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        await asyncio.sleep(0.15)

    asyncio.run(cut())
    until(lambda: HERE in job.devices and job.devices[HERE].links == 0, "the link is gone")


def test_a_slow_reader_gets_the_newest_view_and_every_small_event() -> None:
    """Old views are of no use to anybody; of small events only the last ones are kept, so memory has a limit."""

    async def read_late() -> list[tuple[str, Any]]:
        feed = Feed(asyncio.get_running_loop())
        for i in range(100):
            feed.tell("view", {"version": i})
            feed.tell("taken", {"key": i})
        await asyncio.sleep(0)
        return await feed.take(1.0)

    got = asyncio.run(read_late())
    assert got[-1] == ("view", {"version": 99})
    assert [event for event, _ in got].count("view") == 1
    keys = [data["key"] for event, data in got if event == "taken"]
    assert keys == list(range(100 - len(keys), 100)) and 10 < len(keys) < 30


def test_nothing_comes_twice() -> None:
    """What was taken is gone; then there is a pulse."""

    async def twice() -> tuple[Any, Any]:
        feed = Feed(asyncio.get_running_loop())
        feed.tell("view", {"version": 1})
        return await feed.take(1.0), await feed.take(0.01)

    assert asyncio.run(twice()) == ([("view", {"version": 1})], [])
