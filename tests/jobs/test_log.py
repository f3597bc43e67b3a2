"""The job log: what was acknowledged is there, whatever happens to the writer."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import threading
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from halfsplit.errors import EntryError, InputError
from halfsplit.jobs.log import LONGEST, JobLog

WHEN = datetime(2025, 3, 4, 10, 15, 30, 120000, timezone(timedelta(hours=1)))


def fixed() -> datetime:
    return WHEN


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "job.log"


def test_a_line_is_plain_text_with_time_and_number(path: Path) -> None:
    """A person can read the file: ISO time with offset, number, the line as typed."""
    log = JobLog.open(path, clock=fixed)
    assert [log.append("+24 24.0"), log.append("  C1 166 ")] == [1, 2]
    assert path.read_text("utf-8") == ("2025-03-04T10:15:30.120+01:00 1 +24 24.0\n2025-03-04T10:15:30.120+01:00 2   C1 166 \n")
    assert [(x.number, x.time, x.text) for x in log.lines()] == [(1, WHEN, "+24 24.0"), (2, WHEN, "  C1 166 ")]


def test_a_log_goes_on_where_it_stopped(path: Path) -> None:
    """Opening again keeps every line and the next number."""
    JobLog.open(path, clock=fixed).append("off")
    again = JobLog.open(path, clock=fixed)
    assert again.append("on") == 2
    assert [x.text for x in again.lines()] == ["off", "on"]


@pytest.mark.parametrize(
    "left",
    [
        b"2025",
        b"2025-03-04T10:15:30.120+01:00 3",
        b"2025-03-04T10:15:30.120+01:00 3 ",
        b"2025-03-04T10:15:30.120+01:00 3 +24 2",
        "2025-03-04T10:15:30.120+01:00 3 C2 4\u00b5".encode()[:-1],
    ],
)
def test_a_torn_last_line_is_kept_and_not_counted(path: Path, left: bytes) -> None:
    """What a crash left is reported, stays in the file, and the next line stands on its own and takes the number."""
    log = JobLog.open(path, clock=fixed)
    log.append("off")
    log.append("on")
    with path.open("ab") as handle:
        handle.write(left)
    log = JobLog.open(path, clock=fixed)
    assert [x.text for x in log.lines()] == ["off", "on"]
    assert [t.at for t in log.torn()] == [3]
    before = path.read_bytes()
    assert log.append("vcc 9.3") == 3
    assert path.read_bytes().startswith(before + b"\n")
    for reader in (log, JobLog.open(path, clock=fixed)):
        assert [(x.number, x.text) for x in reader.lines()] == [(1, "off"), (2, "on"), (3, "vcc 9.3")]
        assert [t.at for t in reader.torn()] == [3]


def test_every_place_of_tearing_gives_whole_lines_only(path: Path) -> None:
    """The file cut at any byte still opens, holds a beginning of the lines, and takes the next one."""
    log = JobLog.open(path, clock=fixed)
    texts = ["off", "C2 4.7\u00b5", "see C7 domed"]
    for text in texts:
        log.append(text)
    whole = path.read_bytes()
    for cut in range(len(whole) + 1):
        path.write_bytes(whole[:cut])
        done = whole[:cut].count(b"\n")
        cut_log = JobLog.open(path, clock=fixed)
        assert [x.text for x in cut_log.lines()] == texts[:done]
        assert cut_log.append("next") == done + 1
        assert [x.text for x in JobLog.open(path, clock=fixed).lines()] == [*texts[:done], "next"]


def test_text_that_is_not_utf8_is_refused_and_kept(path: Path) -> None:
    """The message names file, line and remedy; not a byte of the file changes."""
    data = b"2025-03-04T10:15:30.120+01:00 1 off\n2025-03-04T10:15:30.120+01:00 2 4.7\xb5 x\n"
    path.write_bytes(data)
    with pytest.raises(InputError, match=r"job\.log:2: byte 36 .*not UTF-8.*kept"):
        JobLog.open(path, clock=fixed)
    assert path.read_bytes() == data


@pytest.mark.parametrize("numbers", [(1, 3), (2,), (1, 2, 4), (1, 2, 1)])
def test_a_missing_line_is_an_error(path: Path, numbers: tuple[int, ...]) -> None:
    """A gap in the numbers means that an acknowledged line was lost: never passed over."""
    path.write_text("".join(f"2025-03-04T10:15:30.120+01:00 {n} off\n" for n in numbers))
    before = path.read_bytes()
    with pytest.raises(InputError, match="is due"):
        JobLog.open(path, clock=fixed)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a\nb", "line end"),
        ("a\r", "line end"),
        ("a\tb", "tab"),
        ("\x1b[A", "control"),
        ("a\u2028b", "control"),
        ("\ud800", "control"),
        ("", "nothing was typed"),
        ("   ", "nothing was typed"),
        ("x" * (LONGEST + 1), "split it"),
    ],
)
def test_what_is_no_plain_line_is_refused(path: Path, text: str, said: str) -> None:
    """Nothing of a refused line reaches the file."""
    log = JobLog.open(path, clock=fixed)
    with pytest.raises(EntryError, match=said):
        log.append(text)
    assert path.read_bytes() == b""


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.lists(st.text(max_size=30), max_size=4))
@example(["2025-03-04T10:15:30.120+01:00 1 off", "1 1", "\ufeff\u00b5"])
def test_any_line_comes_back_as_typed_or_is_refused(texts: list[str]) -> None:
    """Round trip through the file, also for lines that look like log lines themselves."""
    with tempfile.TemporaryDirectory() as folder:
        log = JobLog.open(Path(folder) / "job", clock=fixed)
        kept = []
        for text in texts:
            try:
                assert log.append(text) == len(kept) + 1
            except EntryError:
                assert any(not c.isprintable() for c in text) or not text.strip()
            else:
                kept.append(text)
        again = JobLog.open(Path(folder) / "job", clock=fixed)
        assert [x.text for x in again.lines()] == kept
        assert again.torn() == ()


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    st.binary(max_size=80) | st.text(max_size=60).map(lambda t: f"2025-03-04T10:15:30+01:00 1 {t}\n".encode("utf-8", "replace"))
)
def test_any_bytes_open_or_are_refused_without_a_change(data: bytes) -> None:
    """A foreign file never crashes the reader and is never altered by reading."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job"
        path.write_bytes(data)
        try:
            log = JobLog.open(path, clock=fixed)
        except InputError as refused:
            assert str(path) in str(refused)
        else:
            assert len(log.lines()) <= data.count(b"\n")
        assert path.read_bytes() == data


WRITER = """
import sys
from halfsplit.jobs.log import JobLog
log = JobLog.open(sys.argv[1])
for i in range(100000):
    number = log.append(f"{sys.argv[2]} vcc {i}.5 \\u00b5")
    sys.stdout.write(f"{number} {sys.argv[2]} vcc {i}.5 \\u00b5\\n")
    sys.stdout.flush()
"""


def _writer(path: Path, name: str) -> subprocess.Popen[bytes]:
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p), "PYTHONIOENCODING": "utf-8"}
    return subprocess.Popen([sys.executable, "-c", WRITER, str(path), name], stdout=subprocess.PIPE, env=env)


def _kill(writer: subprocess.Popen[bytes]) -> list[str]:
    """Kill at once; whole acknowledgements that it still got out."""
    writer.send_signal(signal.SIGKILL)
    assert writer.stdout is not None
    rest = writer.stdout.read()  # communicate() would drop what readline() has already buffered
    writer.stdout.close()
    writer.wait(timeout=20)
    assert writer.returncode == -signal.SIGKILL
    return [line.decode() for line in rest.split(b"\n")[:-1]]


@pytest.mark.parametrize("acknowledged", [1, 7, 40])
def test_a_killed_writer_loses_nothing_acknowledged(path: Path, acknowledged: int) -> None:
    """kill -9 in the middle of writing: every number given out is found with its text; the log goes on."""
    writer = _writer(path, "a")
    assert writer.stdout is not None
    said = [writer.stdout.readline().decode().rstrip("\n") for _ in range(acknowledged)]
    said += _kill(writer)
    log = JobLog.open(path, clock=fixed)
    found = {f"{x.number} {x.text}" for x in log.lines()}
    assert set(said) <= found
    assert len(found) <= len(said) + 1  # at most the one that was being acknowledged
    assert log.append("on") == len(found) + 1


def test_two_writers_never_mix_and_one_may_be_killed(path: Path) -> None:
    """Two programs on one file: every number once, every acknowledged line whole."""
    one, two = _writer(path, "a"), _writer(path, "b")
    assert one.stdout is not None and two.stdout is not None
    said = [w.stdout.readline().decode().rstrip("\n") for _ in range(15) for w in (one, two) if w.stdout]
    said += _kill(one)
    said += [two.stdout.readline().decode().rstrip("\n") for _ in range(5)]
    said += _kill(two)
    found = [f"{x.number} {x.text}" for x in JobLog.open(path, clock=fixed).lines()]
    assert len(said) >= 35
    assert set(said) <= set(found)
    assert len(set(said)) == len(said)


def test_threads_share_one_log(path: Path) -> None:
    """One JobLog in several threads gives each line its own number."""
    log, numbers = JobLog.open(path, clock=fixed), []
    threads = [threading.Thread(target=lambda i=i: numbers.append(log.append(f"vcc {i}.0"))) for i in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(numbers) == list(range(1, 13))
    assert sorted(x.text for x in log.lines()) == sorted(f"vcc {i}.0" for i in range(12))


def test_the_line_and_the_new_name_reach_the_disk_before_it_is_acknowledged(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """fsync: file and folder when the log is made, the file with the whole line in it at each append."""
    synced: list[tuple[str, bytes]] = []
    real = os.fsync

    def watched(handle: int) -> None:
        real(handle)
        name = os.readlink(f"/proc/self/fd/{handle}")
        synced.append((name, path.read_bytes()))

    monkeypatch.setattr(os, "fsync", watched)
    log = JobLog.open(path, clock=fixed)
    assert synced == [(str(path), b""), (str(path.parent), b"")]
    log.append("off")
    assert synced[2:] == [(str(path), b"2025-03-04T10:15:30.120+01:00 1 off\n")]


def test_a_full_disk_is_told_and_the_log_goes_on(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a line written, then no room: InputError, no number; the next line is whole and takes that number."""
    log = JobLog.open(path, clock=fixed)
    log.append("off")
    real = os.write

    def full(handle: int, data: bytes) -> int:
        if len(data) < 20:
            raise OSError(28, "No space left on device")
        return real(handle, data[:-10])

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(InputError, match="No space left"):
        log.append("vcc 9.3 shaky")
    monkeypatch.setattr(os, "write", real)
    assert [x.text for x in log.lines()] == ["off"]
    assert log.append("vcc 9.4") == 2
    assert [x.text for x in log.lines()] == ["off", "vcc 9.4"]


def test_a_file_that_cannot_be_had_is_told(tmp_path: Path) -> None:
    """A missing folder, or a folder in place of the file, names the path and the remedy."""
    for bad in (tmp_path / "no" / "job", tmp_path):
        with pytest.raises(InputError, match="job|tmp|pytest"):
            JobLog.open(bad, clock=fixed)


def test_a_clock_without_offset_is_a_mistake_of_the_program(path: Path) -> None:
    """Times in the log always carry their offset."""
    log = JobLog.open(path, clock=lambda: datetime(2025, 3, 4))
    with pytest.raises(ValueError, match="offset"):
        log.append("off")
    assert JobLog.open(path, clock=lambda: datetime(2025, 3, 4, tzinfo=UTC)).append("off") == 1
