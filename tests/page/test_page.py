"""The page in a real browser: two devices in step, lost links, reloads, a killed server, and what assistive technology finds."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from halfsplit.bench.begin import new_job
from halfsplit.bench.desk import Desk
from halfsplit.bench.shelf import Intake
from page_tool import KIT, PATIENCE, dead_volts, enter, serving, settled

ROOT = Path(__file__).resolve().parents[2]
AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
THREE = ("bench radio, 230V 50Hz, class II, 20W", "dead", "linear 12V 1A, 5V")


def begun(desk: Desk) -> str:
    """A job of three lines."""
    return new_job(desk, *THREE, "", Intake(ticket="7"))


def opened(page: Page, address: str, job: str) -> Page:
    page.goto(f"{address}/#/job/{job}")
    settled(page)
    return page


def entries(desk: Desk, job: str) -> list[str]:
    """What the log holds after the three lines of the start."""
    return [x.text for x in desk.job(job).with_job(lambda j: j.log.lines())][3:]


def shown(page: Page) -> str:
    return page.get_by_role("region", name="Log").inner_text()


def test_two_devices_show_the_same_job_in_step_and_only_one_moves_its_power(tmp_path: Path, pages: Any) -> None:
    """A line of either comes up on both; `off` of the one that doesn't hold the probes is refused there and logged nowhere."""
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        one, two = opened(pages.open(), address, job), opened(pages.open(), address, job)
        enter(one, "off")
        settled(one)
        expect(two.get_by_role("region", name="Log")).to_contain_text("off")
        expect(two.get_by_role("heading", level=1)).to_have_text(one.get_by_role("heading", level=1).inner_text())
        enter(two, "see nothing")
        settled(two)
        expect(one.get_by_role("region", name="Log")).to_contain_text("see nothing")
        enter(two, "on")
        expect(two.get_by_role("alert").filter(has_text="holds the probes")).to_be_visible()
        assert entries(desk, job) == ["off", "see nothing"]


def test_a_device_that_takes_over_from_a_lost_one_knows_nothing_of_the_set(tmp_path: Path, pages: Any) -> None:
    """The holder's link gone: the other says that the state is not known; taking the probes begins a new sitting."""
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        one = opened(pages.open(), address, job)
        enter(one, "off")
        settled(one)
        two = opened(pages.open(), address, job)
        one.context.close()
        pages.contexts.remove(one.context)
        expect(two.get_by_role("alert").filter(has_text="not known")).to_be_visible(timeout=20_000)
        two.get_by_role("button", name="Hold the probes").click()
        expect(two.get_by_role("button", name="Hold the probes")).to_have_count(0)
        settled(two)
        assert desk.job(job).view()["answer"]["state"]["power"] == "unknown"
        enter(two, "off")
        settled(two)
        assert entries(desk, job) == ["off", "off"]


def test_what_is_typed_while_the_link_is_lost_is_kept_and_sent_once(tmp_path: Path, pages: Any) -> None:
    """Offline the page says so and keeps the line; back again it is sent, and stands in the log once."""
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        page = opened(pages.open(), address, job)
        page.context.set_offline(True)
        enter(page, "see nothing")
        expect(page.get_by_role("status").filter(has_text="Kept here, 1 to send")).to_be_visible()
        assert entries(desk, job) == []
        page.context.set_offline(False)
        expect(page.get_by_role("region", name="Log")).to_contain_text("see nothing", timeout=20_000)
        settled(page)
        assert entries(desk, job) == ["see nothing"]


def test_a_line_whose_answer_was_lost_counts_once(tmp_path: Path, pages: Any) -> None:
    """The bench takes the line, the answer never arrives, the page sends it again."""
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        page = opened(pages.open(), address, job)
        lost: list[str] = []

        def lose_the_first(route: Any) -> None:
            if lost:
                route.continue_()
                return
            lost.append(route.fetch().text())
            route.abort()

        page.route("**/lines", lose_the_first)
        enter(page, "see nothing")
        expect(page.get_by_role("region", name="Log")).to_contain_text("see nothing")
        settled(page)
        assert '"taken":true' in lost[0]
        assert entries(desk, job) == ["see nothing"]


def test_a_reload_in_the_middle_of_an_entry_keeps_what_was_typed(tmp_path: Path, pages: Any) -> None:
    """The half-typed line stands on the line again; nothing of it was entered."""
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        page = opened(pages.open(), address, job)
        page.keyboard.type("see C1 do")
        page.reload()
        settled(page)
        expect(page.get_by_role("textbox").first).to_have_value("see C1 do")
        assert entries(desk, job) == []


@contextmanager
def process(folder: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    """`halfsplit bench` as its user starts it."""
    code = "from halfsplit.cli.main import main; main()"
    argv = [sys.executable, "-c", code, "bench", "--jobs", str(folder), "--port", str(port), "--kit", str(KIT)]
    run = subprocess.Popen(argv, env=os.environ | {"PYTHONPATH": str(ROOT / "src")}, stdout=subprocess.PIPE, text=True)
    try:
        assert run.stdout is not None and "bench page" in run.stdout.readline()
        for _ in range(200):
            try:
                socket.create_connection(("127.0.0.1", port), 1).close()
                break
            except OSError:
                time.sleep(0.05)
        yield run
    finally:
        run.kill()
        run.wait()
        if run.stdout:
            run.stdout.close()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_a_killed_server_loses_and_doubles_nothing(tmp_path: Path, pages: Any) -> None:
    """Killed between two lines and started again: the page comes back by itself, says that the state is not known meanwhile, keeps
    the line that was typed into the dead link, and the log holds each line once."""
    port = free_port()
    page = pages.open()
    log = tmp_path / "1-bench.job"
    begin = enumerate(zip(("unit", "symptom", "start"), THREE, strict=True), 1)
    log.write_text("".join(f"2026-01-02T03:04:0{n}.000+00:00 {n} {key}: {words}\n" for n, (key, words) in begin))
    with process(tmp_path, port) as run:
        opened(page, f"http://127.0.0.1:{port}", "1-bench")
        enter(page, "off")
        settled(page)
        run.send_signal(signal.SIGKILL)
        run.wait()
        expect(page.get_by_role("alert").filter(has_text="Link lost")).to_be_visible(timeout=20_000)
        enter(page, "see nothing")
        expect(page.get_by_role("status").filter(has_text="Kept here, 1 to send")).to_be_visible()
    with process(tmp_path, port):
        expect(page.get_by_role("alert").filter(has_text="Link lost")).to_have_count(0, timeout=PATIENCE)
        settled(page)
        line = page.get_by_role("textbox").first
        if line.input_value():  # the card is another one since: looked at first, then entered
            assert line.input_value() == "see nothing"
            page.keyboard.press("Enter")
            settled(page)
        expect(page.get_by_role("region", name="Log")).to_contain_text("see nothing")
    texts = [re.sub(r"^\S+ \S+ ", "", x) for x in log.read_text().splitlines()]
    assert texts[3:] == ["off", "see nothing"]


def test_the_probes_of_a_round_are_looked_through_and_a_value_points_to_its_part(tmp_path: Path, pages: Any) -> None:
    """A healthy value falls in healthy, a foreign one elsewhere, before Enter; nothing is logged by typing."""
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        page = opened(pages.open(), address, job)
        proven_dead(desk, job, page)
        probe = desk.job(job).view()["answer"]["card"]["probes"][0]
        low, high = probe["healthy"]
        logged = len(entries(desk, job))
        page.keyboard.type(f"{low * 1.01 if high == 'OL' else (low + high) / 2:.9f}")
        expect(page.get_by_role("region", name="Entry")).to_contain_text("healthy")
        page.keyboard.press("Escape")
        page.keyboard.type("0.001" if low > 0.01 else "OL")
        expect(page.get_by_role("region", name="Entry")).not_to_contain_text("falls inhealthy")
        assert len(entries(desk, job)) == logged


VIEWS = {
    "list": ((1280, 800), "#/", ()),
    "new job": ((1280, 800), "#/new", ()),
    "act": ((1280, 800), "job", ()),
    "dead": ((1280, 800), "job", ("off",)),
    "round": ((1280, 800), "job", ("off", "dead")),
    "panels": ((1280, 800), "job", ("pad",)),
    "why": ((1280, 800), "job", ("why",)),
    "log": ((1280, 800), "job", ("log",)),
    "sheet": ((1280, 800), "job", ("sheet",)),
    "pictures": ((1280, 800), "job", ("pictures",)),
    "phone": ((390, 844), "job", ()),
}


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_axe_finds_nothing_serious(theme: str, tmp_path: Path, pages: Any) -> None:
    """axe-core (its rules for WCAG 2 A, AA and good practice) on every view, dark and light: no finding that it calls serious or critical."""
    source = AXE.read_text(encoding="utf-8")
    found = []
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        page = pages.open(bypass_csp=True, color_scheme=theme)
        for name, (size, where, lines) in VIEWS.items():
            page.set_viewport_size({"width": size[0], "height": size[1]})
            page.goto(f"{address}/{where if where.startswith('#') else f'#/job/{job}'}")
            page.reload()
            if where == "job":
                settled(page)
            for line in lines:
                enter(page, dead_volts(desk, job) if line == "dead" else line)
                settled(page)
            page.wait_for_timeout(300)
            page.evaluate(source)
            result = page.evaluate("() => axe.run(document, {resultTypes: ['violations']})")
            bad = [v for v in result["violations"] if v["impact"] in ("serious", "critical")]
            found += [(name, v["id"], n["target"], n.get("failureSummary", "")[:200]) for v in bad for n in v["nodes"]]
    assert found == []


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (1920, 1080), (390, 844)])
def test_nothing_overflows_and_the_far_figures_are_large(width: int, height: int, tmp_path: Path, pages: Any) -> None:
    """The bench view needs no scrolling of the page; the healthy band, the leads and the typed value have 48 px and more (phone: 34 for what is typed)."""
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        page = pages.open(viewport={"width": width, "height": height})
        opened(page, address, job)
        proven_dead(desk, job, page)
        assert page.get_by_role("group", name="Red on").is_visible()
        sizes = page.evaluate("() => ['.good .figure', '.where .far', '#line'].map(s => parseFloat(getComputedStyle(document.querySelector(s)).fontSize))")
        assert sizes[0] >= 36 and sizes[1] >= (34 if width < 700 else 37) and sizes[2] >= (34 if width < 700 else 48)
        over = page.evaluate("() => [document.documentElement.scrollWidth > innerWidth, document.documentElement.scrollHeight > innerHeight]")
        assert over == [False, False]


def proven_dead(desk: Desk, job: str, page: Page) -> None:
    """The plug out and every capacitor read, so that the page asks for a reading."""
    enter(page, "off")
    settled(page)
    enter(page, dead_volts(desk, job))
    settled(page)


def test_a_part_is_found_on_the_drawing(tmp_path: Path, pages: Any) -> None:
    """`find` with a name marks it; a name that is not on the sheet is said. Neither is logged."""
    with serving(tmp_path) as (address, desk):
        job = begun(desk)
        page = opened(pages.open(), address, job)
        part = next(p.ref for p in desk.circuit(job).parts if p.family == "fuse")
        enter(page, f"find {part}")
        expect(page.locator(".mark.found")).to_contain_text(part, timeout=PATIENCE)
        enter(page, "find R999")
        expect(page.get_by_role("alert").filter(has_text="R999")).to_be_visible()
        assert entries(desk, job) == []
