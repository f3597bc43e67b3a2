"""The drawing of a job on the page: the same places as the sheet grows, and files for print."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

from starlette.testclient import TestClient

from bench_support import FUSED, begin, desk_on
from halfsplit.bench.desk import Desk
from halfsplit.jobs.job import Job


def grown(desk: Desk, folder: Path, line: str) -> None:
    """One more way on the sheet."""
    Job(folder / "1-night-light.job").log.append(line)
    desk.job("1-night-light").with_job(lambda job: None)


def test_parts_stay_where_they_were_drawn_as_the_sheet_grows(desk: Desk, folder: Path, page: TestClient) -> None:
    """Also after the server was started anew; the new part is there, drawing anew from nothing is asked for."""
    begin(folder, sheet=FUSED)
    before = page.get("/api/jobs/1-night-light/drawing").json()["data"]["parts"]
    grown(desk, folder, "way: mid R3(4k7) N")
    after = page.get("/api/jobs/1-night-light/drawing").json()["data"]["parts"]
    assert set(after) == {*before, "R3"}
    assert {ref: after[ref]["box"] for ref in before} == {ref: part["box"] for ref, part in before.items()}
    again = desk_on(folder)
    assert again.drawings.of("1-night-light", again.circuit("1-night-light"))["data"]["parts"] == after
    again.close()
    assert set(page.post("/api/jobs/1-night-light/tidy").json()["data"]["parts"]) == set(after)


def test_a_spoilt_file_of_places_is_drawn_from_nothing(folder: Path, page: TestClient) -> None:
    """A drawing is no more than a picture of the sheet: it never keeps a job from being opened."""
    begin(folder, sheet=FUSED)
    (folder / "1-night-light.places.json").write_text('["x"', encoding="utf-8")
    assert "R2" in page.get("/api/jobs/1-night-light/drawing").json()["data"]["parts"]


def test_the_drawing_comes_as_files_for_print(folder: Path, page: TestClient) -> None:
    """SVG with its own style, and PDF; another ending is refused."""
    begin(folder, sheet=FUSED)
    svg = page.get("/api/jobs/1-night-light/drawing.svg")
    assert svg.headers["content-type"] == "image/svg+xml" and "attachment" in svg.headers["content-disposition"]
    root = ElementTree.fromstring(svg.text)
    assert root.find("{http://www.w3.org/2000/svg}style") is not None
    pdf = page.get("/api/jobs/1-night-light/drawing.pdf")
    assert pdf.headers["content-type"] == "application/pdf" and pdf.content.startswith(b"%PDF")
    assert page.get("/api/jobs/1-night-light/drawing.exe").status_code == 422


def test_a_job_without_a_sheet_has_nothing_to_draw(folder: Path, page: TestClient, desk: Desk) -> None:
    """It says what is missing."""
    job = desk.shelf.begin("x")
    answer = page.get(f"/api/jobs/{job}/drawing")
    assert answer.status_code == 400 and "what kind of supply" in answer.json()["error"]
