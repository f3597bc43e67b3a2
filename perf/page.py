"""Speed of the bench page in a real browser, beside the command line's loop on the same lines in the same run; and its pictures.

    python perf/page.py                     times on a 73-part sheet and on a starting sheet
    python perf/page.py --shots FOLDER      screenshots of every view, dark and light, tablet, large screen and phone
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests" / "robot"), str(ROOT / "tests")]

from playwright.sync_api import Page, sync_playwright  # noqa: E402

from halfsplit.bench.begin import new_job  # noqa: E402
from halfsplit.bench.desk import Desk  # noqa: E402
from halfsplit.bench.shelf import Intake  # noqa: E402
from halfsplit.jobs.job import Job  # noqa: E402
from halfsplit.jobs.kit import read_kit  # noqa: E402
from page_tool import CHROMIUM, FLAGS, KIT, PATIENCE, dead_volts, enter, serving, settled  # noqa: E402

WATCH = """() => {
  const main = document.querySelector('main.bench');
  window.took = [];
  let begun = 0;
  addEventListener('keydown', (e) => { if (e.key === 'Enter') begun = performance.now(); }, true);
  new MutationObserver(() => {
    if (main.getAttribute('aria-busy') === 'false' && begun) requestAnimationFrame(() => { window.took.push(performance.now() - begun); begun = 0; });
  }).observe(main, { attributes: true, attributeFilter: ['aria-busy'] });
}"""
ACKS = "() => performance.getEntriesByType('resource').filter(e => e.name.endsWith('/lines')).map(e => e.responseEnd - e.startTime)"
PAINT = "() => performance.getEntriesByName('first-contentful-paint').map(e => e.startTime)[0]"
FETCHED = "() => performance.getEntriesByType('resource').filter(e => e.name.includes('/drawing')).map(e => e.responseEnd - e.startTime)"


def say(page: Page, line: str) -> None:
    """A line, and what comes of it."""
    enter(page, line)
    settled(page)


def reading(card: dict[str, Any]) -> str | None:
    """A healthy value for the first probe of a round."""
    if card["kind"] != "round":
        return None
    low, high = card["probes"][0]["healthy"] or (1.0, 2.0)
    return "OL" if low == "OL" or high == "OL" else f"{(low + high) / 2:.12f}".rstrip("0")


def one_sheet(page: Page, address: str, desk: Desk, job: str, readings: int) -> dict[str, float]:
    """Figures of one job: paint, drawing, entries. [ms]"""
    page.goto(f"{address}/#/job/{job}")
    page.reload()
    settled(page)
    page.wait_for_function("() => document.querySelector('.svg svg')", timeout=PATIENCE)
    page.evaluate(WATCH)
    say(page, "off")
    say(page, dead_volts(desk, job))
    lines = ["off"]
    for _ in range(readings):
        card = desk.job(job).view()["answer"]["card"]
        if card.get("caps"):
            time.sleep(card.get("wait", 0) + 0.5)
            line = " ".join("1" for _ in card["caps"])
        else:
            line = reading(card) or "see nothing"
        say(page, line)
        lines.append(line)
    took, acks = page.evaluate("() => window.took"), page.evaluate(ACKS)
    return {
        "first paint": page.evaluate(PAINT), "drawing, first": page.evaluate(FETCHED)[0],
        "acknowledged, median": median(acks[2:]), "acknowledged, slowest": max(acks[2:]),
        "new card, median": median(took[2:]), "new card, slowest": max(took[2:]),
    }


def by_line(folder: Path, log: Path) -> float:
    """The command line's loop on the same lines: median of a line [ms]."""
    job = Job(folder / "line.job", kit=read_kit(KIT.read_text(encoding="utf-8")))
    took = []
    job.first()
    for line in (x.text for x in Job(log).log.lines()):
        start = time.perf_counter()
        job.send(line)
        took.append(1000 * (time.perf_counter() - start))
    return median(took[-8:])


def times() -> None:
    """The table for perf/README.md."""
    sheets = {"73 parts": ("", "", "", (ROOT / "perf" / "mains_supply.yaml").read_text(encoding="utf-8")),
              "starting sheet": ("label printer, 230V 50Hz, class II, 40W", "dead", "flyback with controller; out 24V 1.5A", "")}
    rows: dict[str, dict[str, float]] = {}
    with sync_playwright() as play, tempfile.TemporaryDirectory() as name:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for sheet, (unit, symptom, start, text) in sheets.items():
            with serving(Path(name) / "jobs") as (address, desk):
                job = new_job(desk, unit or "supply", symptom, start, text, Intake())
                page = browser.new_context(viewport={"width": 1280, "height": 800}, bypass_csp=True).new_page()
                rows[sheet] = one_sheet(page, address, desk, job, 8)
                grown = time.perf_counter()
                circuit = desk.circuit(job)
                desk.drawings.of(job, circuit.with_parts(circuit.parts[:-1]))  # one part fewer: the rest keeps its places
                rows[sheet]["drawing, wires only"] = 1000 * (time.perf_counter() - grown)
                rows[sheet]["the same lines, command line, median"] = by_line(Path(name), desk.shelf.path(job))
                page.context.close()
                (Path(name) / "line.job").unlink()
        browser.close()
    print("| ms | " + " | ".join(rows) + " |\n|---|" + "---|" * len(rows))
    for what in next(iter(rows.values())):
        print(f"| {what} | " + " | ".join(f"{r[what]:.0f}" for r in rows.values()) + " |")


def shots(folder: Path) -> None:
    """Every view as a picture."""
    folder.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as play, tempfile.TemporaryDirectory() as name, serving(Path(name)) as (address, desk):
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        job = new_job(desk, "air purifier, 230V 50Hz, class II, 20W", "dead, ticks", "flyback with controller; out 24V 0.6A", "", Intake("212", 70))
        device = {"halfsplit.device": "shotsdevice1", "halfsplit.name": "tablet"}

        def shoot(what: str, sizes: tuple[tuple[int, int], ...], themes: tuple[str, ...], where: str, typed: str = "") -> None:
            for width, height in sizes:
                for theme in themes:
                    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=theme)  # type: ignore[arg-type]
                    context.add_init_script(f"for (const [k, v] of Object.entries({device})) localStorage.setItem(k, v);")
                    page = context.new_page()
                    page.goto(f"{address}/{where}")
                    if "job/" in where:
                        settled(page)
                        page.wait_for_timeout(900)
                        if typed in ("why", "sheet", "pictures", "log", "drawing", "pad"):
                            say(page, typed)
                            page.wait_for_timeout(1200)
                        elif typed:
                            page.keyboard.type(typed)
                    page.wait_for_timeout(400)
                    page.screenshot(path=folder / f"page-{what}-{width}-{theme}.png")
                    context.close()

        tablet, large, phone = (1280, 800), (1920, 1080), (390, 844)
        at = f"#/job/{job}"
        shoot("jobs", (tablet,), ("dark",), "#/")
        shoot("new", (tablet,), ("light",), "#/new")
        context = browser.new_context()
        context.add_init_script(f"for (const [k, v] of Object.entries({device})) localStorage.setItem(k, v);")
        page = context.new_page()
        page.goto(f"{address}/{at}")
        settled(page)
        say(page, "off")
        shoot("empty", (tablet,), ("dark",), at, "9 4 1")
        for line in (dead_volts(desk, job), "OL OL"):
            say(page, line)
        shoot("round", (tablet, large), ("dark", "light"), at, "0.55")
        shoot("round", (phone,), ("dark", "light"), at, "0.55")
        say(page, "0.001 0.52")
        for panel in ("why", "sheet", "pictures", "log", "drawing", "pad"):
            shoot(panel, (tablet,), ("dark",), at, panel)
        browser.close()


if __name__ == "__main__":
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--shots", type=Path)
    got = ask.parse_args()
    shots(got.shots) if got.shots else times()
