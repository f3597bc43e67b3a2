"""Who is let in, and what every answer carries."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from bench_support import HERE, HOST, UNIT, begin, client_on
from halfsplit.bench.desk import Desk
from halfsplit.bench.guard import HEADERS, POLICY, loopback_hosts
from halfsplit.bench.shelf import Shelf

NEW = {"unit": UNIT, "symptom": "dead"}


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:9", "127.0.0.1", "localhost.evil.example:8570", f"{HOST}.evil.example", ""])
def test_a_name_that_is_not_ours_gets_nothing(page: TestClient, host: str) -> None:
    """A page elsewhere that let its own name point here is refused, for reading too."""
    for path in ("/", "/api/jobs", "/static/main.js"):
        answer = page.get(path, headers={"host": host})
        assert answer.status_code == 421 and "night" not in answer.text


def test_this_machine_may_be_called_by_its_usual_names() -> None:
    """By number, by name, and in the newer numbering; each with the port."""
    assert loopback_hosts(8570) == {"127.0.0.1:8570", "localhost:8570", "[::1]:8570"}


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:8570", "http://127.0.0.1:3000", ""])
def test_a_foreign_page_enters_nothing(page: TestClient, folder: Path, origin: str) -> None:
    """403, and no job was begun."""
    answer = page.post("/api/jobs", json=NEW, headers={"origin": origin})
    assert answer.status_code == 403 and "nothing was done" in answer.json()["error"]
    assert list(folder.iterdir()) == []
    assert page.post("/api/jobs", json=NEW, headers={"origin": f"http://{HOST}"}).status_code == 200


def test_a_foreign_page_cannot_look_on(page: TestClient, folder: Path) -> None:
    """A stream or a picture of ours within another page would read along, and hold the probes; a link to the page is no harm."""
    begin(folder)
    assert page.get("/api/jobs", headers={"origin": "http://evil.example"}).status_code == 403
    for site in ("cross-site", "same-site"):
        answer = page.get(f"/api/jobs/1-night-light/events?device={HERE}", headers={"sec-fetch-site": site})
        assert answer.status_code == 403
        assert page.get("/", headers={"sec-fetch-site": site, "sec-fetch-mode": "navigate"}).status_code == 200
    assert page.get("/api/jobs/1-night-light", headers={"sec-fetch-site": "same-origin"}).json()["holder"] is None


def test_without_the_token_nobody_is_let_in(desk: Desk) -> None:
    """Absent, wrong, nearly right, in a wrong cookie: 401, for page, data and files."""
    page = client_on(desk, "s3cret")
    for path in ("/", "/api/jobs", "/static/main.js", "/?token=", "/?token=s3cre", "/?token=S3CRET", "/?token=%ff%00"):
        assert page.get(path).status_code == 401, path
    for cookie in ("halfsplit=s3cre", "other=s3cret", "halfsplit", "halfsplit=\xff"):
        assert page.get("/api/jobs", headers={"cookie": cookie.encode("latin-1")}).status_code == 401, cookie


def test_the_token_is_taken_out_of_the_address(desk: Desk) -> None:
    """Shown once it becomes a cookie that no script reads and no other page brings, and the address is clean again."""
    page = client_on(desk, "s3cret")
    answer = page.get("/?token=s3cret")
    assert answer.status_code == 303 and answer.headers["location"] == "/"
    assert {"httponly", "samesite=strict"} <= {x.strip().lower() for x in answer.headers["set-cookie"].split(";")}
    assert page.get("/").status_code == 200 and page.get("/api/jobs").json() == []


def test_the_token_in_an_address_enters_nothing(desk: Desk, folder: Path) -> None:
    """What is entered needs the cookie."""
    assert client_on(desk, "s3cret").post("/api/jobs?token=s3cret", json=NEW).status_code == 401
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("path", ["//evil.example/x", "/\\evil.example", "///evil.example"])
def test_an_address_with_a_token_never_leads_to_another_machine(desk: Desk, path: str) -> None:
    """Two slashes at the beginning would name a machine."""
    page = client_on(desk, "s3cret")
    where = page.get(f"http://{HOST}{path}?token=s3cret").headers["location"]
    assert where.startswith("/") and where[1:2] not in ("/", "\\")


def test_every_answer_carries_the_strict_headers(page: TestClient, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page, data, files, what is refused and what went wrong."""

    def burst(shelf: Shelf) -> list[str]:
        raise ZeroDivisionError

    answers = {
        200: page.get("/"),
        201: page.get("/api/starts"),
        202: page.get("/static/style.css"),
        404: page.get("/api/jobs/9-none"),
        4040: page.get("/static/none.css"),
        4041: page.get("/nowhere"),
        405: page.delete("/api/jobs"),
        422: page.post("/api/jobs", content=b"{"),
        421: page.get("/", headers={"host": "evil.example"}),
        403: page.post("/api/jobs", headers={"origin": "null"}),
        401: client_on(desk, "s3cret").get("/"),
    }
    monkeypatch.setattr(Shelf, "ids", burst)
    answers[500] = page.get("/api/jobs")
    for code, answer in answers.items():
        assert answer.status_code == (code if code in (401, 403, 405, 421, 422, 500) else {2: 200, 4: 404}[int(str(code)[0])])
        for name, value in HEADERS.items():
            assert answer.headers.get_list(name) == [value], (code, name)
    assert "ZeroDivisionError" in answers[500].json()["error"]


def test_the_policy_lets_nothing_in_from_outside() -> None:
    """No inline scripts or styles, nothing from other machines, no frame round the page."""
    rules = {rule.split()[0]: rule.split()[1:] for rule in POLICY.split(";")}
    assert rules["default-src"] == rules["base-uri"] == rules["frame-ancestors"] == ["'none'"]
    assert {s for sources in rules.values() for s in sources} <= {"'self'", "'none'", "blob:"}
    assert rules["script-src"] == rules["connect-src"] == ["'self'"]
