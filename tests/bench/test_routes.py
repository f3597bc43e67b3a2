"""What a browser can ask for: status, content and what is left on the disk."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from bench_support import FUSED, HERE, TINY, UNIT, begin, texts
from halfsplit.bench.desk import Desk
from halfsplit.bench.shelf import BIGGEST_UPLOAD

LINES = {"unit": UNIT, "symptom": "dead", "start": "linear 12V 1A", "ticket": " A 17 ", "limit": 60}


def settled_view(page: TestClient, desk: Desk, job: str) -> dict[str, Any]:
    desk.job(job).with_job(lambda _: None)
    view: dict[str, Any] = page.get(f"/api/jobs/{job}").json()
    return view


def test_a_job_is_begun_with_three_lines(page: TestClient, folder: Path) -> None:
    """The list shows it with what was said at intake."""
    answer = page.post("/api/jobs", json=LINES)
    assert answer.status_code == 200 and answer.json() == {"job": "1-night-light"}
    assert texts(folder) == [f"unit: {UNIT}", "symptom: dead", "start: linear 12V 1A"]
    (row,) = page.get("/api/jobs").json()
    assert (row["ticket"], row["limit"], row["unit"], row["symptom"], row["entries"]) == ("A 17", 60.0, UNIT, "dead", 3)
    assert row["broken"] is None and row["closed"] is False


def test_a_job_is_begun_with_a_sheet(page: TestClient, folder: Path, desk: Desk) -> None:
    """The same job as from the sheet file."""
    job = page.post("/api/jobs", json={"unit": UNIT, "symptom": "", "sheet": TINY}).json()["job"]
    assert texts(folder, job) == [f"unit: {UNIT}", "symptom: dead", "way: L F1(T1A) R1(1k) N"]
    assert settled_view(page, desk, job)["answer"]["card"]["kind"] == "act"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"unit": "microwave oven, 230V 50Hz, class I, 800W"}, ["unit", "microwave"]),
        ({"unit": "radio"}, ["unit", "230V"]),
        ({"unit": "radio, 230V 50Hz, 25W"}, ["unit", "class"]),
        ({"unit": "radio, 230V 50Hz, class II"}, ["unit", "W"]),
        ({"unit": ""}, ["unit"]),
        ({"unit": "radio\n, 230V\x00"}, ["unit"]),
        ({"start": "liner 12V"}, ["start", "linear"]),
        ({"sheet": TINY.replace("R1(1k)", "R1(1k")}, ["sheet:4"]),
        ({"sheet": TINY.replace("night light", "microwave oven")}, ["microwave"]),
    ],
)
def test_what_is_refused_or_missing_is_named_and_leaves_nothing(page: TestClient, folder: Path, change: dict[str, str], words: list[str]) -> None:
    """400 with the field and the remedy; no file, no number used up."""
    answer = page.post("/api/jobs", json={**LINES, **change})
    assert answer.status_code == 400
    assert all(word in answer.json()["error"] for word in words), answer.json()
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize(
    ("change", "field"),
    [({"unit": "x" * 201}, "unit"), ({"limit": 0}, "limit"), ({"limit": "soon"}, "limit"), ({"ticket": "x" * 41}, "ticket"), ({"sheet": "x" * 20001}, "sheet")],
)  # fmt: skip
def test_a_field_beyond_its_limit_is_named(page: TestClient, folder: Path, change: dict[str, Any], field: str) -> None:
    """422, nothing done."""
    answer = page.post("/api/jobs", json={**LINES, **change})
    assert answer.status_code == 422 and f"body.{field}" in answer.json()["error"]
    assert list(folder.iterdir()) == []


def test_a_line_goes_in_and_its_meaning_comes_with_the_view(page: TestClient, desk: Desk, folder: Path) -> None:
    """Taken, taken again, refused; 409 for another card and for who doesn't hold the probes."""
    job = begin(folder)
    url = f"/api/jobs/{job}"
    stamp = settled_view(page, desk, job)["stamp"]
    line = {"line": "off", "key": "k3f9a27c", "stamp": stamp, "device": HERE}
    assert page.post(f"{url}/lines", json=line).status_code == 409
    assert page.post(f"{url}/hold", json={"device": HERE, "name": "bench tablet"}).json() == {"ok": True}
    assert page.post(f"{url}/lines", json=line).json().items() >= {"taken": True, "again": False, "refused": None}.items()
    assert page.post(f"{url}/lines", json=line).json().items() >= {"taken": True, "again": True, "refused": None}.items()
    view = settled_view(page, desk, job)
    assert view["answer"]["state"]["power"] == "unplugged" and [x["text"] for x in view["log"]].count("off") == 1
    old = page.post(f"{url}/lines", json={**line, "key": "k3f9a27d"})
    assert old.status_code == 409 and "look at it" in old.json()["error"]
    said = page.post(f"{url}/lines", json={**line, "line": "gibberish", "key": "k3f9a27e", "stamp": view["stamp"]}).json()
    assert said["taken"] is False and "gibberish" in said["refused"]
    assert page.post(f"{url}/hand-over", json={"device": HERE}).json() == {"ok": True}
    assert page.post(f"{url}/hand-over", json={"device": HERE}).status_code == 409


@pytest.mark.parametrize("change", [{"key": "short"}, {"key": "K3F9A27C"}, {"key": "k3f9a27c off"}, {"device": ""}, {"line": "x" * 1001}])
def test_a_message_that_is_not_whole_is_refused(page: TestClient, folder: Path, change: dict[str, str]) -> None:
    """422; the log is untouched."""
    job = begin(folder)
    before = texts(folder)
    line = {"line": "off", "key": "k3f9a27c", "stamp": "x", "device": HERE, **change}
    assert page.post(f"/api/jobs/{job}/lines", json=line).status_code == 422
    assert texts(folder) == before


def test_the_sheet_is_read_checked_and_edited(page: TestClient, folder: Path) -> None:
    """What comes out goes in again without an edit; a change becomes lines; a protector stays; a fault is named by line and column."""
    job = begin(folder, sheet=FUSED)
    url = f"/api/jobs/{job}/sheet"
    text = page.get(url).json()["text"]
    edit = {"text": text, "key": "k3f9a27c", "device": HERE}
    assert page.post(url, json=edit).status_code == 409
    page.post(f"/api/jobs/{job}/hold", json={"device": HERE})
    assert page.post(url, json=edit).json() == {"lines": 0}
    assert page.post(url, json={**edit, "text": text.replace("2k2", "4k7")}).json() == {"lines": 2}
    assert "4k7" in page.get(url).json()["text"] and "2k2" not in page.get(url).json()["text"]
    bypass = text.replace("L F1(T1A) mid R1", "L R1").replace("mid R2", "L R2")
    refused = page.post(url, json={**edit, "text": bypass, "key": "k3f9a27d"})
    assert refused.status_code == 400 and "F1" in refused.json()["error"]
    assert page.post("/api/sheet/check", json={"text": text}).json() == {"ok": True, "parts": 4, "seen": 3, "nets": 3}
    looked = page.post("/api/sheet/check", json={"text": TINY.replace("R1(1k)", "R1(1q)")}).json()
    assert not looked["ok"] and (looked["line"], looked["column"]) == (4, 13) and "1q" in looked["error"]


def test_a_sheet_of_what_the_trade_refuses_is_not_looked_over(page: TestClient) -> None:
    """Said with the reason, not with parts and nets."""
    looked = page.post("/api/sheet/check", json={"text": TINY.replace("night light", "microwave oven")}).json()
    assert not looked["ok"] and "microwave" in looked["error"]


def test_limits_are_changed_one_by_one(page: TestClient, folder: Path) -> None:
    """What isn't mentioned stays; a limit can be taken away."""
    job = begin(folder)
    url = f"/api/jobs/{job}/limits"
    page.post(url, json={"ticket": "A 17", "limit": 30})
    assert page.post(url, json={"closed": True}).json() == {"ticket": "A 17", "limit": 30.0, "closed": True, "photos": []}
    assert page.post(url, json={"limit": None}).json()["limit"] is None
    assert page.post(url, json={"ticket": None}).json()["ticket"] == "A 17"
    (row,) = page.get("/api/jobs").json()
    assert row["closed"] is True and row["ticket"] == "A 17"


def a_photo() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 30)).save(out, "PNG")
    return out.getvalue()


def test_a_photograph_is_taken_shown_and_in_the_view(page: TestClient, desk: Desk, folder: Path) -> None:
    """As a JPEG, whatever it was."""
    job = begin(folder)
    name = page.post(f"/api/jobs/{job}/photos", content=a_photo()).json()["photo"]
    shown = page.get(f"/api/jobs/{job}/photos/{name}")
    assert shown.headers["content-type"] == "image/jpeg" and shown.content[:2] == b"\xff\xd8"
    assert settled_view(page, desk, job)["photos"] == [name]
    for other in ("2.jpg", "..%2f1-night-light.job", "%2e%2e"):
        assert page.get(f"/api/jobs/{job}/photos/{other}").status_code == 404


def test_what_is_no_photograph_or_too_big_is_refused(page: TestClient, folder: Path) -> None:
    """400 and 413; also where the length isn't told beforehand."""
    job = begin(folder)
    url = f"/api/jobs/{job}/photos"
    assert page.post(url, content=b"just words").status_code == 400
    assert page.post(url, content=b"x", headers={"content-length": str(BIGGEST_UPLOAD + 1)}).status_code == 413
    piece = bytes(1 << 20)
    assert page.post(url, content=(piece for _ in range(BIGGEST_UPLOAD // len(piece) + 2))).status_code == 413
    assert not (folder / f"{job}.photos").exists()


ASKS = [
    ("GET", ""), ("GET", "/sheet"), ("GET", "/photos/1.jpg"), ("GET", f"/events?device={HERE}"), ("POST", "/lines"), ("POST", "/sheet"),
    ("POST", "/hold"), ("POST", "/hand-over"), ("POST", "/limits"), ("POST", "/photos"),
]  # fmt: skip
BODY = {"line": "off", "key": "k3f9a27c", "stamp": "x", "device": HERE, "text": TINY}


@pytest.mark.parametrize(("method", "rest"), ASKS)
@pytest.mark.parametrize("job", ["9-none", "Upper", "%2e%2e%2fsecret"])
def test_a_job_that_is_not_there_is_said(page: TestClient, folder: Path, method: str, rest: str, job: str) -> None:
    """404 whatever is asked of it, and no file is made by asking."""
    answer = page.request(method, f"/api/jobs/{job}{rest}", json=BODY if method == "POST" else None)
    assert answer.status_code == 404 and answer.headers["content-type"] == "application/json"
    assert list(folder.iterdir()) == []


def test_one_spoilt_job_does_not_hide_the_others(page: TestClient, folder: Path) -> None:
    """It stands in the list with what is wrong: a log that is none, intake data that are none."""
    begin(folder)
    (folder / "2-log.job").write_bytes(b"\xff\xff\n")
    (folder / "4-empty.job").touch()  # the power went as it was begun
    begin(folder, "3-intake")
    (folder / "3-intake.json").write_text("{", encoding="utf-8")
    rows = {row["job"]: row for row in page.get("/api/jobs").json()}
    assert rows["1-night-light"]["broken"] is None and rows["4-empty"]["entries"] == 0
    assert page.get("/api/jobs/4-empty").status_code == 200
    assert "2-log" in rows["2-log"]["broken"] and "3-intake.json" in rows["3-intake"]["broken"]


def test_lists_for_the_forms(page: TestClient) -> None:
    """Starting sheets each with a line that it takes, part families, colour bands."""
    starts = page.get("/api/starts").json()
    assert {"linear"} <= {s["name"] for s in starts} and all(s["example"] for s in starts)
    families = {f["name"]: f for f in page.get("/api/families").json()}
    assert families["resistor"]["letters"] == ["R"] and len(families["resistor"]["pins"]) == 2
    assert page.get("/api/bands?colours=yellow,violet,red,gold").json() == {"ohms": 4700.0, "text": "4700", "tolerance": 0.05}
    assert page.get("/api/bands?colours=pink").status_code == 400


def test_the_page_itself_is_never_kept_by_the_browser(page: TestClient) -> None:
    """After an update the new one is there; it brings everything along that it needs."""
    answer = page.get("/")
    assert answer.headers["cache-control"] == "no-store" and "/static/main.js" in answer.text
    assert page.get("/static/main.js").status_code == 200


def test_speech_is_a_sound_or_nothing(page: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the machine has no voice the browser is told so without an error."""
    monkeypatch.setattr("halfsplit.bench.say.shutil.which", lambda _: None)
    assert page.get("/api/say?text=low").status_code == 204
    assert page.get("/api/say?text=" + "x" * 601).status_code == 422


@pytest.mark.parametrize(
    ("method", "path", "body", "code"),
    [("POST", "/api/jobs", b"{", 422), ("POST", "/api/jobs", b"\xff#y", 400), ("POST", "/api/jobs", b"[" * 100_000, 400),
     ("GET", "/api/nothing", None, 404), ("DELETE", "/api/jobs", None, 405)],
)  # fmt: skip
def test_whatever_is_wrong_is_said_in_the_same_place(page: TestClient, method: str, path: str, body: bytes | None, code: int) -> None:
    """The page's program looks for `error`, also where the framework refused by itself."""
    answer = page.request(method, path, content=body, headers={"content-type": "application/json"})
    assert answer.status_code == code and answer.json()["error"]
