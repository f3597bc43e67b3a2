"""Jobs that are open on the page: each with one lock, one worker that thinks, and whoever looks on.

A line is checked and on the disk before it is acknowledged; what it means comes after, to everybody who has the job open.
"""

from __future__ import annotations

import hashlib
import json
import logging
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, TypeVar

from halfsplit.bench.drawn import Drawings
from halfsplit.bench.moves import moves_power, strikes_power, wants_dead
from halfsplit.bench.shelf import Shelf
from halfsplit.circuit.model import Circuit
from halfsplit.errors import HalfsplitError, InputError
from halfsplit.jobs.entry import Entry
from halfsplit.jobs.job import Clock, Job, local_now
from halfsplit.jobs.kit import Kit
from halfsplit.jobs.record import minutes_spent

log = logging.getLogger(__name__)
T = TypeVar("T")
Listener = Callable[[str, dict[str, Any]], None]


class Changed(InputError):
    """The card is another than the one that was on show when the line was sent."""


class Held(InputError):
    """Another device holds the probes."""


@dataclass
class Device:
    """One tablet or laptop. links: event streams that it has open now."""

    name: str
    links: int = 0


class OpenJob:
    """One job for all who have it open. Everything that touches the Job is done under its lock."""

    def __init__(self, name: str, shelf: Shelf, kit: Kit, worker: ThreadPoolExecutor, clock: Clock = local_now) -> None:
        self.name, self.shelf, self.kit, self.clock = name, shelf, kit, clock
        self._worker = worker
        self._lock = threading.RLock()
        self._job: Job | None = None
        self._answer: dict[str, Any] | None = None
        self._stamp = ""
        self._pending: tuple[Entry, ...] | None = None
        self._link_was_lost = False
        self._guard = threading.Lock()
        self._show = threading.Lock()
        self._listeners: list[Listener] = []
        self.devices: dict[str, Device] = {}
        self.holder: str | None = None
        self._never_held = True
        self.version = 0
        self.working: str | None = "opening the job"
        self.failed: str | None = None
        self._view: dict[str, Any] = {}
        self.publish()
        worker.submit(self._safely, self._open)

    # ---- who looks on

    def listen(self, listener: Listener, device: str, name: str) -> Callable[[], None]:
        """Be told of every change: listener(event, data). Returns what ends it. The first device to come holds the probes;
        once they were handed over only who asks for them does."""
        with self._guard:
            self._listeners.append(listener)
            known = self.devices.setdefault(device, Device(name))
            known.name = name or known.name
            known.links += 1
            if self._never_held:
                self.holder, self._never_held = device, False
        self.publish()

        def leave() -> None:
            with self._guard:
                if listener in self._listeners:
                    self._listeners.remove(listener)
                    self.devices[device].links -= 1
            self.publish()

        return leave

    def hold(self, device: str, name: str) -> None:
        """Take the probes over. From a device that is still there only it itself can give them; from one whose link is lost anybody
        may, and then nobody knows how the set stands. Raises Held."""
        with self._guard:
            holder = self.holder
            if holder == device:
                return
            there = holder is not None and self.devices[holder].links > 0
            if there:
                raise Held(f"{self._called(holder)} holds the probes; press Hand over there first")
            self.devices.setdefault(device, Device(name))
            self.holder, self._never_held = device, False
            self._link_was_lost = self._link_was_lost or holder is not None
        if holder is not None:
            self.working = "how the set stands is not known"  # until the new sitting shows it: never the old state beside the new holder
            self._worker.submit(self._safely, self._unknown)  # a line that comes sooner does it itself
        self.publish()

    def hand_over(self, device: str) -> None:
        """Give the probes away: whoever takes them next has them. Raises Held."""
        with self._guard:
            if self.holder != device:
                raise Held(f"{self._called(self.holder)} holds the probes, not this device")
            self.holder = None
        self.publish()

    def _called(self, device: str | None) -> str:
        known = self.devices.get(device or "")
        return known.name if known and known.name else "another device"

    # ---- lines

    def enter(self, line: str, key: str, stamp: str, device: str) -> dict[str, Any]:
        """Take one line once. Returns taken, again (it was taken before), refused and the view's version. Raises Changed, Held."""
        with self._lock:
            job = self._ready()
            if job.log.has(key):
                return {"taken": True, "again": True, "refused": None, "version": self.version}
            if not self._stamp or stamp != self._stamp:
                raise Changed("something came in meanwhile and the card is another one; look at it, then press Enter again")
            try:
                entries = job.take(line, key, lambda said: self._check_holder(job, line, said, device))
            except Held:
                raise
            except InputError as no:
                self._answered(job.refusal(str(no)))
                self.working = None
                self.publish()
                return {"taken": False, "again": False, "refused": str(no), "version": self.version}
            self._pending = entries
            self.working = "weighing"
            version = self.version
        self._tell("taken", {"key": key})
        self._worker.submit(self._safely, self._think)
        return {"taken": True, "again": False, "refused": None, "version": version}

    def edit_sheet(self, text: str, key: str, device: str) -> int:
        """Enter what an edited sheet says differently; how many lines. Raises Held, SheetError, Refused."""
        with self._lock:
            job = self._ready()
            if self.holder != device:
                raise Held(f"{self._called(self.holder)} holds the probes; the sheet is edited there")
            if job.log.has(key):
                return 0
            count = job.take_sheet(text, key)
            self._pending = ()
            self.working = "weighing"
        self._worker.submit(self._safely, self._think)
        return count

    def with_job(self, use: Callable[[Job], T]) -> T:
        """Something that reads the job, under its lock."""
        with self._lock:
            return use(self._ready())

    def _check_holder(self, job: Job, line: str, entries: tuple[Entry, ...], device: str) -> None:
        """Only the holder moves the power; and while his link is lost nobody else reads what wants a dead set. Raises Held."""
        holder = self.holder
        if holder == device:
            return
        moves = moves_power(entries) or strikes_power(job, line, entries)
        cold = wants_dead(entries)
        if holder is None and (moves or cold):
            raise Held("nobody holds the probes; press Hold the probes first, then enter it again")
        if moves:
            raise Held(f"{self._called(holder)} holds the probes; only there the power may be moved")
        if cold and holder is not None and not self.devices[holder].links:
            raise Held(f"the link to {self._called(holder)} is lost, so nobody knows how the set stands; hold the probes here first")

    def _ready(self) -> Job:
        """The job with nothing left to do, whoever does it: the worker or, where a line comes first, who brings the line."""
        if self._job is None:
            self._safely(self._open)
        if self._pending is not None:
            self._safely(self._think)
        if self._link_was_lost:
            self._safely(self._unknown)
        job = self._job
        if job is None:
            raise InputError(self.failed or "the job is not open yet; wait a moment")
        if len(job.log.lines()) != job.standing.last:  # another program has written to this job
            self._safely(lambda: self._answered(job.think(())))
        return job

    # ---- the worker's part

    def _safely(self, work: Callable[[], bool]) -> None:
        """An error of the engine is shown in the job's view; nothing typed is lost by it. work: whether there was anything to do."""
        with self._lock:
            try:
                if work():
                    self.failed = None
            except Exception as bad:  # the worker must live, and the page must say what happened
                known = isinstance(bad, HalfsplitError)
                if not known:
                    log.exception("job %s", self.name)
                why = f"the last line could not be weighed ({type(bad).__name__}: {bad}). It is kept; strike it with: no"
                self.failed = str(bad) if known else why
                if self._job is not None:
                    self._answered(self._job.unweighed(self.failed))
            self.working = None
            self.publish()

    def _answered(self, answer: dict[str, Any]) -> bool:
        """What is on show from now on, and the stamp that a line typed against it bears."""
        job = self._job
        self._answer = answer
        self._stamp = "" if job is None else stamp_of(job.standing.last, answer["card"])
        return True

    def _open(self) -> bool:
        if self._job is not None:
            return False
        self._job = Job(self.shelf.path(self.name), kit=self.kit, clock=self.clock, progress=self._progress)
        return self._answered(self._job.first())

    def _think(self) -> bool:
        if self._pending is None or self._job is None:
            return False
        entries, self._pending = self._pending, None
        return self._answered(self._job.think(entries))

    def _unknown(self) -> bool:
        if not self._link_was_lost or self._job is None:
            return False
        self._link_was_lost = False
        return self._answered(self._job.begin_new_sitting())

    def _progress(self, text: str) -> None:
        self.working = text
        self._tell("working", {"text": text})

    # ---- what is shown

    def view(self) -> dict[str, Any]:
        """The whole view as last published."""
        return self._view

    def publish(self) -> None:
        """Show everybody the view anew; also while something is weighed."""
        with self._show:  # else an older view might come to stand in place of a newer one
            self.version += 1
            self._view = self._make_view()
            self._tell("view", self._view)

    def _tell(self, event: str, data: dict[str, Any]) -> None:
        with self._guard:
            listeners = list(self._listeners)
        for listener in listeners:
            listener(event, data)

    def _make_view(self) -> dict[str, Any]:
        job, answer = self._job, self._answer
        view: dict[str, Any] = {
            "job": self.name,
            "version": self.version,
            "working": self.working,
            "failed": self.failed,
            "holder": self._holder_view(),
            "answer": answer,
            "stamp": "",
        }
        if job is None or answer is None:
            return view
        lines = job.log.lines()
        intake = self.shelf.intake(self.name)
        standing = job.standing
        names = standing.names
        sheet = dict(standing.sheet)
        return {
            **view,
            "stamp": self._stamp,
            "sheet": {key: sheet.get(key, "") for key in ("unit", "symptom", "start")},
            "log": job.entered(),
            "minutes": {"spent": round(minutes_spent(lines, job.clock().timestamp()), 1), "limit": intake.limit},
            "ticket": intake.ticket,
            "photos": list(intake.photos),
            "lamps": list(self.kit.lamps),
            "names": {"nets": sorted(names.nets), "parts": sorted(names.parts), "controls": sorted(names.controls)},
            "drawing": "" if standing.circuit is None else hashlib.sha256(repr(standing.circuit).encode()).hexdigest()[:12],
        }

    def _holder_view(self) -> dict[str, Any] | None:
        if self.holder is None:
            return None
        device = self.devices[self.holder]
        return {"device": self.holder, "name": device.name, "there": device.links > 0}


def stamp_of(lines: int, card: dict[str, Any]) -> str:
    """What a line that answers this card depends on: how long the log is and what a bare value would mean."""
    probes = [[p.get(k) for k in ("point", "red", "black", "function", "alone")] for p in card.get("probes", [])]
    what = [lines, card.get("kind"), card.get("do"), card.get("live"), probes, card.get("caps"), card.get("meter")]
    return hashlib.sha256(json.dumps(what).encode()).hexdigest()[:16]


class Desk:
    """Every job that is open, at most so many; the one not looked at for longest makes room."""

    def __init__(self, shelf: Shelf, kit: Kit, most: int = 6, clock: Clock = local_now) -> None:
        self.shelf, self.kit, self.most, self.clock = shelf, kit, most, clock
        self.drawings = Drawings(shelf)
        self._worker = ThreadPoolExecutor(max_workers=2, thread_name_prefix="weigh")
        self._guard = threading.Lock()
        self._open: dict[str, OpenJob] = {}

    def job(self, name: str) -> OpenJob:
        """The job, opened if it wasn't. Raises InputError."""
        with self._guard:
            if name in self._open:
                self._open[name] = self._open.pop(name)
                return self._open[name]
            self.shelf.path(name)
            idle = [k for k, j in self._open.items() if not any(d.links for d in j.devices.values())]
            for k in idle[: max(0, len(self._open) + 1 - self.most)]:
                del self._open[k]
            self._open[name] = OpenJob(name, self.shelf, self.kit, self._worker, self.clock)
            return self._open[name]

    def circuit(self, name: str) -> Circuit:
        """The circuit of a job as it stands. Raises InputError where it has none yet."""
        circuit = self.job(name).with_job(lambda job: job.standing.circuit)
        if circuit is None:
            raise InputError("nothing to draw yet: say what it is and what kind of supply it has")
        return circuit

    def close(self, wait: bool = True) -> None:
        """Begin nothing more. wait: let the worker end what it is at."""
        self._worker.shutdown(wait=wait, cancel_futures=True)
