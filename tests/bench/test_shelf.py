"""The folder of jobs: names, intake data, photographs."""

from __future__ import annotations

import io
import json
import os
import struct
import threading
import zlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin

from halfsplit.bench import shelf as shelf_module
from halfsplit.bench.shelf import BIGGEST_UPLOAD, SIDE, Intake, NotThere, Shelf
from halfsplit.errors import InputError


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "jobs")


def a_picture(kind: str = "JPEG", size: tuple[int, int] = (40, 30), **more: object) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (200, 30, 30)).save(out, kind, **more)
    return out.getvalue()


def test_only_proper_names_are_jobs(shelf: Shelf) -> None:
    """Other files in the folder are left alone and not listed; the one last worked on comes first."""
    for name in ("1-old.job", "Upper.job", "a b.job", ".job", "-x.job", "notes.txt", "2-new.job"):
        (shelf.folder / name).touch()
    os.utime(shelf.folder / "1-old.job", (1, 1))
    assert shelf.ids() == ["2-new", "1-old"]


@pytest.mark.parametrize("job", ["../secret", "..", "a/b", "a\\b", "/etc/passwd", "1.job", "", "A", "x" * 62, "1\n", "1\0"])
def test_a_name_that_leads_elsewhere_is_no_job(shelf: Shelf, job: str) -> None:
    """For the log, the intake data and the photographs alike, also where such a file exists."""
    (shelf.folder.parent / "secret.job").write_text("x", encoding="utf-8")
    (shelf.folder.parent / "secret.json").write_text("{}", encoding="utf-8")
    for ask in (shelf.path, shelf.intake, lambda j: shelf.keep(j, Intake()), lambda j: shelf.add_photo(j, a_picture())):
        with pytest.raises(NotThere):
            ask(job)
    with pytest.raises(NotThere):
        shelf.photo(job, "1.jpg")
    assert list(shelf.folder.rglob("*")) == []


def test_ids_count_on_and_say_what_the_unit_is(shelf: Shelf) -> None:
    """Two alike get two numbers; a unit without a plain letter gets the number alone."""
    assert [shelf.begin(w) for w in ("Night light", "Night light", "\u00dc\u00c4", "a" * 300)] == [
        "1-night-light", "2-night-light", "3", "4-" + "a" * 40,
    ]  # fmt: skip
    assert all(shelf.path(job).is_file() for job in shelf.ids())


def test_two_who_begin_at_once_get_two_jobs(shelf: Shelf) -> None:
    """No number is given twice."""
    got: list[str] = []
    threads = [threading.Thread(target=lambda: got.append(shelf.begin("radio"))) for _ in range(8)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert len(set(got)) == 8


def test_intake_is_written_whole(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the disk fails in the middle the old data stand."""
    shelf.keep("1-x", Intake(ticket="A 17", limit=60.0, photos=("1.jpg",)))

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shelf_module.os, "fsync", full)
    with pytest.raises(OSError):
        shelf.keep("1-x", Intake(ticket="B"))
    assert shelf.intake("1-x") == Intake(ticket="A 17", limit=60.0, photos=("1.jpg",))


@pytest.mark.parametrize("data", ["", "[]", "{", '{"tickets": 1}', "null"])
def test_intake_that_cannot_be_read_is_kept_and_named(shelf: Shelf, data: str) -> None:
    """The file is not overwritten by the next change; the text names it."""
    path = shelf.folder / "1-x.json"
    path.write_text(data, encoding="utf-8")
    with pytest.raises(InputError, match=r"1-x\.json"):
        shelf.change("1-x", ticket="B")
    assert path.read_text(encoding="utf-8") == data


def with_everything(kind: str) -> bytes:
    """A picture that says where it was taken, in every way its format has."""
    exif = Image.Exif()
    exif[0x010F] = "SECRETMAKER"
    exif[0x0112] = 6  # to be turned by a quarter
    exif.get_ifd(0x8825)[1] = "SECRETNORTH"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    xmp = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>SECRETXMP</x:xmpmeta>"
    if kind == "PNG":
        info = PngImagePlugin.PngInfo()
        info.add_text("Comment", "SECRETTEXT")
        info.add_itxt("XML:com.adobe.xmp", xmp.decode())
        return a_picture("PNG", exif=exif, pnginfo=info)
    if kind == "WEBP":
        return a_picture("WEBP", exif=exif, xmp=xmp)
    return a_picture("JPEG", exif=exif, comment=b"SECRETCOMMENT", xmp=xmp)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photograph_is_drawn_anew_without_where_it_was_taken(shelf: Shelf, kind: str) -> None:
    """Place, maker and comments are gone; it stands upright; nothing of the original is kept."""
    raw = with_everything(kind)
    assert b"SECRET" in raw
    name = shelf.add_photo("1-x", raw)
    kept = shelf.photo("1-x", name)
    with Image.open(io.BytesIO(kept)) as picture:
        assert picture.format == "JPEG" and picture.size == (30, 40) and not dict(picture.getexif())
    assert b"SECRET" not in kept and b"Exif" not in kept
    assert all(b"SECRET" not in p.read_bytes() for p in shelf.folder.rglob("*") if p.is_file())


def test_large_photographs_are_made_smaller(shelf: Shelf) -> None:
    """The longer side has 2400 pixels then, and the proportions stay."""
    kept = shelf.photo("1-x", shelf.add_photo("1-x", a_picture(size=(4800, 1200))))
    with Image.open(io.BytesIO(kept)) as picture:
        assert picture.size == (SIDE, 600)


def bomb(width: int, height: int) -> bytes:
    """A small PNG that would be huge in memory."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "data",
    [b"", b"just words", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"GIF89a" + bytes(40), bomb(60_000, 60_000),
     bomb(7000, 6000), bomb(100, 100), a_picture()[:300], a_picture("PNG")[:60]],
    ids=["empty", "text", "svg", "gif", "bomb", "many pixels", "png without its data", "half a jpeg", "half a png"],
)  # fmt: skip
def test_what_is_no_photograph_is_refused(shelf: Shelf, data: bytes) -> None:
    """With the remedy; nothing is kept."""
    with pytest.raises(InputError, match="picture"):
        shelf.add_photo("1-x", data)
    assert list(shelf.folder.rglob("*")) == []


def test_a_photograph_with_too_many_bytes_is_refused(shelf: Shelf) -> None:
    """Before it is even looked at."""
    with pytest.raises(InputError, match="MB"):
        shelf.add_photo("1-x", bytes(BIGGEST_UPLOAD + 1))


@given(kind=st.sampled_from(["JPEG", "PNG", "WEBP"]), changes=st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), min_size=1, max_size=6))
@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@pytest.mark.filterwarnings("ignore::UserWarning:PIL")  # what the library thinks of damaged EXIF data
@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
def test_a_damaged_picture_is_taken_or_refused_and_never_an_error(shelf: Shelf, kind: str, changes: list[tuple[int, int]]) -> None:
    """Whatever a bad transfer or somebody's ill will did to the bytes."""
    data = bytearray(with_everything(kind))
    for at, value in changes:
        data[at % len(data)] = value
    try:
        name = shelf.add_photo("1-x", bytes(data))
    except InputError:
        return
    assert shelf.photo("1-x", name)[:2] == b"\xff\xd8"


def test_photographs_that_come_at_once_are_all_kept(shelf: Shelf) -> None:
    """Each has a name of its own, none is lost from the intake data."""
    pictures = [a_picture(size=(10 + i, 10)) for i in range(8)]
    threads = [threading.Thread(target=shelf.add_photo, args=("1-x", data)) for data in pictures]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    names = shelf.intake("1-x").photos
    assert len(set(names)) == 8
    widths = [Image.open(io.BytesIO(shelf.photo("1-x", n))).width for n in names]
    assert sorted(widths) == list(range(10, 18))


def test_only_photographs_of_this_job_are_shown(shelf: Shelf) -> None:
    """Not a file by its path, not one of another job, not one that somebody deleted."""
    name = shelf.add_photo("1-x", a_picture())
    (shelf.folder / "1-x.photos" / "2.jpg").write_bytes(b"x")
    for job, wanted in (("1-x", "../1-x.json"), ("1-x", "2.jpg"), ("2-y", name)):
        with pytest.raises(NotThere):
            shelf.photo(job, wanted)
    (shelf.folder / "1-x.photos" / name).unlink()
    with pytest.raises(NotThere):
        shelf.photo("1-x", name)


def test_a_folder_that_cannot_be_had_is_said(tmp_path: Path) -> None:
    """With the option to name another."""
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match="--jobs"):
        Shelf(tmp_path / "file" / "jobs")


def test_what_is_kept_beside_a_job_is_plain_data(shelf: Shelf) -> None:
    """A person can read it."""
    shelf.change("1-x", ticket="A 17", closed=True)
    shelf.change("1-x", limit=30.0)
    assert json.loads((shelf.folder / "1-x.json").read_text(encoding="utf-8")) == {
        "ticket": "A 17", "limit": 30.0, "closed": True, "photos": [],
    }  # fmt: skip
