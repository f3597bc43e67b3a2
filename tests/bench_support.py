"""What the tests of the bench page share: a desk over a folder, a unit so small that a line takes milliseconds."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from halfsplit.bench.app import make_app
from halfsplit.bench.desk import Desk, OpenJob
from halfsplit.bench.guard import Door
from halfsplit.bench.shelf import Intake, Shelf
from halfsplit.jobs.job import Job
from halfsplit.jobs.kit import read_kit
from job_support import KIT

UNIT = "night light, 230V 50Hz, class II, 25W"
TINY = f"unit: {UNIT}\nsymptom: dead\nways:\n- L F1(T1A) R1(1k) N\n"
FUSED = f"unit: {UNIT}\nsymptom: dead\nways:\n- L F1(T1A) mid R1(1k) N\n- mid R2(2k2) N\n"
HERE, THERE = "aaaaaaaa", "bbbbbbbb"  # two devices
HOST = "127.0.0.1:8570"


def the_kit() -> Any:
    return read_kit(KIT.read_text(encoding="utf-8"))


def desk_on(folder: Path) -> Desk:
    return Desk(Shelf(folder), the_kit())


def begin(folder: Path, job: str = "1-night-light", *lines: str, sheet: str = TINY) -> str:
    """A job on the shelf, with these lines entered."""
    work = Job(folder / f"{job}.job", kit=the_kit())
    work.begin_from_sheet(sheet.encode(), "sheet")
    work.first()
    for line in lines:
        answer = work.send(line)
        assert answer["ok"], answer["refused"]
    Shelf(folder).keep(job, Intake())
    return job


def texts(folder: Path, job: str = "1-night-light") -> list[str]:
    """What the log holds, line by line."""
    return [line.split(" ", 2)[2] for line in (folder / f"{job}.job").read_text(encoding="utf-8").splitlines()]


def until(true: Callable[[], Any], what: str, patience: float = 30.0) -> Any:
    """The value as soon as it is true."""
    end = time.monotonic() + patience
    while time.monotonic() < end:
        if value := true():
            return value
        time.sleep(0.01)
    raise AssertionError(f"{what}: not within {patience:g} s")


def settled(job: OpenJob) -> dict[str, Any]:
    """The view with everything weighed, whether the worker has come to it or not."""
    job.with_job(lambda _: None)
    return job.view()


def client_on(desk: Desk, token: str | None = None) -> TestClient:
    app = make_app(desk, Door(frozenset({HOST}), token))
    return TestClient(app, base_url=f"http://{HOST}", raise_server_exceptions=False, follow_redirects=False)


class Onlooker:
    """A device with an open link, as the stream keeps one."""

    def __init__(self, job: OpenJob, device: str, name: str = "") -> None:
        self.told: list[tuple[str, dict[str, Any]]] = []
        self._guard = threading.Lock()
        self.leave = job.listen(self._hear, device, name)

    def _hear(self, event: str, data: dict[str, Any]) -> None:
        with self._guard:
            self.told.append((event, data))


class Hand:
    """Someone who types on one device, with a key of his own for each line."""

    def __init__(self, job: OpenJob, device: str = HERE) -> None:
        self.job, self.device, self.count = job, device, 0

    def enter(self, line: str, stamp: str | None = None, key: str | None = None) -> dict[str, Any]:
        self.count += 1
        stamp = settled(self.job)["stamp"] if stamp is None else stamp
        return self.job.enter(line, key or f"{self.device[:4]}{self.count:08d}", stamp, self.device)

    def sure(self, *lines: str) -> None:
        for line in lines:
            said = self.enter(line)
            assert said["taken"], said["refused"]
