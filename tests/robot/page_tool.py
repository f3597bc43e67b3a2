"""The page as the technician's tool: he reads what is visible, by role and name, and types or taps; nothing else reaches him.

What the watcher needs to judge a card (every suspect with its way of failing) is taken from the bench behind the page, for he is not
the technician.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import uvicorn
from playwright.sync_api import Page, expect

from halfsplit.bench.app import make_app
from halfsplit.bench.desk import Desk
from halfsplit.bench.guard import Door, loopback_hosts
from halfsplit.bench.shelf import Shelf
from halfsplit.jobs.kit import read_kit

KIT = Path(__file__).resolve().parents[2] / "examples" / "bench-kit.yaml"
CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run"]
PATIENCE = 120_000  # ms: the first look at a sheet solves it
FUNCTIONS = {
    "DC volts": "v", "AC volts": "ac", "DC volts, MAX": "max", "DC volts, MIN": "min", "ohms": "r", "diode test": "d",
    "capacitance": "c", "ESR": "esr",
}
ENDS = {
    "Convicted": "convicted", "One of these": "group", "Nothing found": "nothing found", "Not on the sheet": "not on the sheet",
    "We stop here": "refused", "No reading is worth it": "no reading helps",
}


@contextmanager
def serving(folder: Path, clock: Callable[[], Any] | None = None, port: int = 0) -> Any:
    """A bench page in this process; gives its address and its desk."""
    kit = read_kit(KIT.read_text(encoding="utf-8"))
    desk = Desk(Shelf(folder), kit, **({"clock": clock} if clock else {}))
    config = uvicorn.Config(None, host="127.0.0.1", port=port, log_level="warning", timeout_graceful_shutdown=2)  # type: ignore[arg-type]
    listening = config.bind_socket()
    port = listening.getsockname()[1]
    app = make_app(desk, Door(loopback_hosts(port)))
    config.app = app
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{port}", desk
    finally:
        app.state.stopping.set()
        server.should_exit = True
        thread.join(timeout=20)
        listening.close()


def settled(page: Page) -> None:
    """Wait until the bench has said what the last line means."""
    expect(page.get_by_role("main", name="Bench")).to_have_attribute("aria-busy", "false", timeout=PATIENCE)


def enter(page: Page, line: str) -> None:
    """A line, and Enter."""
    page.locator("#line").fill(line)
    page.keyboard.press("Enter")


def dead_volts(desk: Desk, job: str) -> str:
    """Bare volts for the card that asks for them, the known source first."""
    return " ".join(["9", *("1" for _ in desk.job(job).view()["answer"]["card"].get("caps") or [])])


class PageTool:
    """The loop of one job on the page. touch: taps only (words on the tablet's own keyboard); else keys only."""

    def __init__(self, page: Page, address: str, desk: Desk, job: str, *, touch: bool, pass_time: Callable[[float], None]) -> None:
        self.page, self.desk, self.job, self.touch, self.pass_time = page, desk, job, touch, pass_time
        self.ask = page.get_by_role("region", name="What to do now")
        page.goto(f"{address}/#/job/{job}")
        settled(self.page)
        self.lines = self._last()
        self.hello = self.read()

    def close(self) -> None:
        """The page is closed by whoever opened it."""

    # ---- hands

    def send(self, line: str) -> dict[str, Any]:
        """One line, by keys or by taps; then what the page shows."""
        (self._tapped if self.touch else self._typed)(line)
        settled(self.page)
        return self.read()

    def _typed(self, line: str) -> None:
        for n in self._open_boxes() if line in ("on", "yes") else []:
            self.page.keyboard.press(str(n))
        offered = self._answers()
        if line in offered:
            self.page.keyboard.type(str(offered.index(line) + 1))
        else:
            if offered:
                self.page.keyboard.press("Escape")
            self.page.keyboard.type(line)
        self.page.keyboard.press("Enter")

    def _tapped(self, line: str) -> None:
        for n in self._open_boxes() if line in ("on", "yes") else []:
            self.page.get_by_role("checkbox").nth(n - 1).tap()
        for button in (*self.ask.locator(".answer").all(), self.page.get_by_role("region", name="Entry").locator(".primary")):
            if line in button.inner_text().splitlines()[1:]:
                return button.tap()
        taps = keys_of(line)
        if taps is None:
            self.page.get_by_role("textbox", name=re.compile(".")).first.tap()
            self.page.keyboard.type(line)  # the tablet's own keyboard
        else:
            pad = self.page.get_by_role("region", name="Pad")
            if not pad.is_visible():
                self.page.get_by_role("button", name="Pad").tap()
            for key in taps:
                pad.get_by_role("button", name=key, exact=True).tap()
        self.page.get_by_role("region", name="Entry").locator(".primary").tap()
        return None

    def _open_boxes(self) -> list[int]:
        boxes = self.page.get_by_role("checkbox").all()
        return [i for i, b in enumerate(boxes, 1) if b.get_attribute("aria-checked") == "false"]

    def _answers(self) -> list[str]:
        """The lines that the open question offers, in their order; empty without one."""
        if not self._title().startswith("One question"):
            return []
        return [b.inner_text().splitlines()[-1] for b in self.ask.locator(".answer").all()]

    def keep(self) -> dict[str, Any]:
        """The reading that was asked about stands as it was typed: nothing is entered, and the card comes up."""
        button = self.ask.get_by_role("button", name=re.compile("Keep it"))
        button.tap() if self.touch else button.press("Enter")
        settled(self.page)
        return self.read()

    # ---- eyes

    def _title(self) -> str:
        return self.ask.get_by_role("heading", level=1).inner_text()

    def _last(self) -> int:
        """Number of the last line that the log shows."""
        rows = self.page.get_by_role("region", name="Log").get_by_role("listitem").all()
        return int(rows[-1].inner_text().split()[0]) if rows else 0

    def read(self) -> dict[str, Any]:
        """What the page shows, in the words of the protocol."""
        if self.touch and self.page.get_by_role("region", name="Pad").is_visible():
            self.page.get_by_role("button", name="Pad").tap()
        refusal = self.page.get_by_role("alert").filter(has_text="Not taken:").all()
        last = self._last()
        new, self.lines = last != self.lines, last
        doubt = self._doubt()
        return {
            "ok": not refusal, "refused": refusal[0].inner_text().removeprefix("Not taken: ") if refusal else None,
            "line": last if new else None, "doubt": doubt, "state": {"black": self._black()},
            "card": {} if doubt else self._card(), "suspects": self._for_the_watcher("suspects"),
        }

    def _black(self) -> str | None:
        found = re.search(r"black stays on (\S+)", self.page.locator("label[for=line]").inner_text())
        return found[1] if found else None

    def _doubt(self) -> dict[str, Any] | None:
        if not self._title().startswith("One question"):
            return None
        ask = self.ask.locator(".headline").inner_text()
        *lines, no = self._answers()
        about = re.search(r"lines? (\d+)", ask)
        offered = {**dict(zip(("yes", "wrong"), lines)), "no": "" if no.startswith("it is") else no}
        return {"ask": ask, "line": int(about[1]) if about else None, "type": offered}

    def _card(self) -> dict[str, Any]:
        title = self._title()
        if title in ENDS:
            ways = self.ask.locator(".headline").all()
            said = ways[0].inner_text().split(" or ") if ways else []
            left = re.search(r"^Heaviest: (.+)$", self.ask.inner_text(), re.MULTILINE)
            parts = [w.split(" ")[0] for w in said] or (left[1].split(", ") if left else [])
            return {"kind": "end", "verdict": ENDS[title], "ways": said, "parts": list(dict.fromkeys(parts))}
        if title.startswith(("Next reading", "Reading")):
            return self._round()
        if title in ("What is it?", "What does it do?", "What kind of supply?"):
            return {"kind": "start", "ask": {"What is it?": "unit", "What does it do?": "symptom"}.get(title, "start")}
        if title.startswith(("Empty them", "Read the volts once more")):
            return self._dead(title)
        if title == "Look first":
            asked = re.match(r"Find (\S+) and read it", self.ask.locator(".headline").inner_text())
            return {"kind": "act", "do": "tell", "about": asked[1] if asked else "", "type": ""}
        return self._act(title)

    def _act(self, title: str) -> dict[str, Any]:
        primary = self.page.get_by_role("region", name="Entry").locator(".primary").inner_text().splitlines()
        boxes = [b.inner_text() for b in self.page.get_by_role("checkbox").all()]
        word = primary[-1]
        if title == "Going live":
            word = "yes" if "Say yes" in self.ask.locator(".headline").inner_text() else "on"
            return {"kind": "act", "do": {"yes": "confirm"}.get(word, word), "type": word, "confirm": boxes}
        if word == "Enter":
            return {"kind": "act", "do": "meter", "type": "meter 9V"}
        return {"kind": "act", "do": word, "type": word, "confirm": [t.inner_text() for t in self.ask.locator(".mind li").all()]}

    def _dead(self, title: str) -> dict[str, Any]:
        names = [f.locator("b").inner_text() for f in self.ask.get_by_role("list", name="Volts, in this order").get_by_role("listitem").all()]
        caps = [n for n in names if n not in ("a known source", "the source again")]
        wait = re.search(r"in (\d+) s", self.ask.locator(".askhead").inner_text())
        again = {"wait": float(wait[1]) if wait else 0.0} if title.startswith("Read") else {}
        meter = "prove" if "a known source" in names else "proven"
        return {"kind": "act", "do": "dead " + " ".join(caps), "caps": caps, "meter": meter, "type": "dead ", "confirm": [], **again}

    def _round(self) -> dict[str, Any]:
        chips = self.ask.get_by_role("list", name="The round").get_by_role("button").all()
        probes = [self._probe()]
        for chip in chips[1:]:
            if self.touch:
                chip.tap()
            else:
                self.page.keyboard.press("ArrowRight")
            expect(chip).to_have_attribute("aria-current", "step")
            probes.append(self._probe())
        state = self.ask.locator(".first p").first.inner_text()
        return {"kind": "round", "state": state, "function": probes[0]["function"], "probes": probes}

    def _probe(self) -> dict[str, Any]:
        red, black, meter = (self._where(n) for n in ("Red on", "Black on", "Meter on"))
        alone = meter[-1].endswith(" by itself")
        where = self.page.locator("label[for=line] span").inner_text().split("; black stays")[0]
        part = meter[-1].removesuffix(" by itself") if alone else None
        ends = {"red": red[-1].rpartition("net ")[2], "black": black[-1].rpartition("net ")[2]}
        return {"function": FUNCTIONS[meter[1]], **ends, "where": where, "part": part, "type": f"{where} "}

    def _where(self, name: str) -> list[str]:
        return [t.strip() for t in self.ask.get_by_role("group", name=name).inner_text().splitlines() if t.strip()]

    def _for_the_watcher(self, key: str) -> Any:
        answer = self.desk.job(self.job).view()["answer"]
        return answer[key] if answer else []


def keys_of(line: str) -> list[str] | None:
    """The keys of the pad that make this line; None where it has words."""
    text = re.sub(r"^(dead|meter) ", "", line)
    if text != line:
        text = text.replace("V", "")
    names = {" ": "next value", "-": "−"}
    if text.startswith("was "):
        rest = keys_of(text[4:])
        return None if rest is None else ["was", *rest]
    if not re.fullmatch(r"[0-9kMunm. OL/-]+", text):
        return None
    return [names.get(k, k) for k in re.findall(r"OL|.", text)]
