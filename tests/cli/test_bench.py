"""The bench page as a process: where it answers, how it ends, what a crash leaves."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import httpx
import pytest

from bench_support import HERE, UNIT, begin, texts, until

ROOT = Path(__file__).parents[2]
ENV = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "PYTHONUNBUFFERED": "1"}


def drain(stream: IO[str], into: list[str]) -> None:
    with stream:
        for line in stream:
            into.append(line)


class Served:
    """The command running on a port of its own choice."""

    def __init__(self, folder: Path, *more: str) -> None:
        argv = [sys.executable, "-m", "halfsplit", "bench", "--jobs", str(folder), "--port", "0", *more]
        self.process = subprocess.Popen(argv, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8", env=ENV)
        self.said: list[str] = []
        self.complaints: list[str] = []
        assert self.process.stdout is not None and self.process.stderr is not None
        both = ((self.process.stdout, self.said), (self.process.stderr, self.complaints))
        self._readers = [threading.Thread(target=drain, args=pair, daemon=True) for pair in both]
        for reader in self._readers:
            reader.start()
        last = "on this machine" if "--lan" in more else "bench page"
        until(lambda: any(last in line for line in self.said) or self.process.poll() is not None, "the address", 60.0)
        assert self.process.poll() is None, self.end()
        (port,) = set(re.findall(r"http://localhost:(\d+)/", "".join(self.said)))
        self.port, self.url = int(port), f"http://127.0.0.1:{port}"
        until(self._answers, "an answer", 60.0)

    def _answers(self) -> bool:
        try:
            return httpx.get(self.url, timeout=5).status_code in (200, 401)
        except httpx.ConnectError:
            return False

    def view(self, job: str, lines: int = 0) -> dict[str, Any]:
        """The view once so many lines are weighed."""

        def ready() -> dict[str, Any] | None:
            view: dict[str, Any] = httpx.get(f"{self.url}/api/jobs/{job}", timeout=30).json()
            return view if view["stamp"] and view["working"] is None and len(view["log"]) >= lines else None

        found: dict[str, Any] = until(ready, "the job is open", 120.0)
        return found

    def end(self) -> tuple[int, str]:
        """Exit code and what it complained of."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(10)
        for reader in self._readers:
            reader.join(10)
        return self.process.returncode, "".join(self.complaints)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    page = Served(tmp_path)
    yield page
    page.end()


def test_it_answers_this_machine_only(served: Served) -> None:
    """On a free port; an address of this machine that others could reach gets no connection."""
    assert httpx.get(f"{served.url}/api/jobs", timeout=5).json() == []
    listening = Path("/proc/net/tcp").read_text(encoding="utf-8").splitlines()[1:]
    mine = [line.split()[1] for line in listening if line.split()[3] == "0A" and line.split()[1].endswith(f":{served.port:04X}")]
    assert mine == [f"0100007F:{served.port:04X}"]


def test_ctrl_c_ends_it_also_with_an_open_stream(served: Served, tmp_path: Path) -> None:
    """Within a few seconds, without an error on the terminal; the job folder is whole."""
    begin(tmp_path)
    served.view("1-night-light")
    came = threading.Event()

    def look_on() -> None:
        with httpx.stream("GET", f"{served.url}/api/jobs/1-night-light/events?device={HERE}", timeout=60) as answer:
            for line in answer.iter_lines():
                if line.startswith("event: view"):
                    came.set()

    looker = threading.Thread(target=look_on, daemon=True)
    looker.start()
    assert came.wait(30)
    begun = time.monotonic()
    served.process.send_signal(signal.SIGINT)
    served.process.wait(timeout=20)
    assert time.monotonic() - begun < 5.0
    looker.join(10)
    assert served.end() == (0, "") and not looker.is_alive()


def test_ctrl_c_does_not_wait_for_what_is_being_solved(served: Served) -> None:
    """A large set takes long; what was entered is on the disk anyhow."""
    new = {"unit": "printer, 230V 50Hz, class II, 40W", "symptom": "dead", "start": "flyback with controller; out 24V 1.5A"}
    job = httpx.post(f"{served.url}/api/jobs", json=new, timeout=60).json()["job"]
    until(lambda: httpx.get(f"{served.url}/api/jobs/{job}", timeout=30).json()["working"], "it is being solved")
    served.process.send_signal(signal.SIGINT)
    served.process.wait(timeout=5)
    assert served.end() == (0, "")


def test_a_port_that_is_taken_is_said(tmp_path: Path) -> None:
    """Exit code 2 with the remedy."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        argv = [sys.executable, "-m", "halfsplit", "bench", "--jobs", str(tmp_path / "jobs"), "--port", port]
        done = subprocess.run(argv, capture_output=True, env=ENV, timeout=60, check=False)
    assert done.returncode == 2 and port.encode() in done.stderr and b"--port" in done.stderr and b"Traceback" not in done.stderr


def test_tablets_are_let_in_with_the_code_only(tmp_path: Path) -> None:
    """The terminal shows an address with a token, another one each time; without it nothing is read or entered."""
    page, other = Served(tmp_path, "--lan"), Served(tmp_path, "--lan")
    try:
        tokens = [set(re.findall(r"\?token=(\S+)", "".join(p.said))) for p in (page, other)]
        assert all(len(t) == 1 and len(next(iter(t))) >= 20 for t in tokens) and tokens[0] != tokens[1]
        (token,), (foreign,) = tokens
        assert httpx.get(f"{page.url}/api/jobs", timeout=5).status_code == 401
        assert httpx.get(f"{page.url}/?token={foreign}", timeout=5).status_code == 401
        new = {"unit": UNIT, "symptom": "dead"}
        assert httpx.post(f"{page.url}/api/jobs", json=new, timeout=5).status_code == 401
        with httpx.Client(base_url=page.url, timeout=30) as tablet:
            assert tablet.get(f"/?token={token}").status_code == 303
            assert tablet.get("/api/jobs").json() == []
    finally:
        for p in (page, other):
            p.end()


def test_killed_in_the_middle_nothing_is_lost_and_nothing_doubled(tmp_path: Path) -> None:
    """What was acknowledged is there after a new start; sent again under its mark it is known, though nobody had told the device."""
    job = begin(tmp_path)
    page = Served(tmp_path)
    httpx.post(f"{page.url}/api/jobs/{job}/hold", json={"device": HERE}, timeout=30)
    sent = []
    for number, line in enumerate(("off", "see nothing", "see nothing")):
        message = {"line": line, "key": f"k3f9a27{number}", "stamp": page.view(job, 3 + number)["stamp"], "device": HERE}
        assert httpx.post(f"{page.url}/api/jobs/{job}/lines", json=message, timeout=30).json()["taken"]
        sent.append(message)
    page.process.kill()  # while the last line is being weighed
    page.process.wait(10)
    page.end()
    again = Served(tmp_path)
    try:
        for message in sent:
            answer = httpx.post(f"{again.url}/api/jobs/{job}/lines", json=message, timeout=120).json()
            assert answer.items() >= {"taken": True, "again": True, "refused": None}.items()
        assert texts(tmp_path)[-3:] == ["off", "see nothing", "see nothing"]
        assert again.view(job)["answer"]["state"]["power"] == "unknown"  # nobody knows what was done meanwhile
    finally:
        again.end()
