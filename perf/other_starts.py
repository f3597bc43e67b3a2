"""How often a wrong starting sheet is named, and how often a right one is accused. `python perf/other_starts.py [units]`.

Units are drawn from the engine's own table of the sheet that is true: one fault in five is none, sizes as assumed or, with `sizes`,
spread as real sets are; half a per cent of meter error. The technician reads at random what both sheets have a word for.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from halfsplit.circuit.sheet import Item, read_unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.circuit.starting.others import translation
from halfsplit.diagnosis.build import Drawn, cold_block, live_block
from halfsplit.diagnosis.columns import Condition, make_column
from halfsplit.diagnosis.suspects import draw_values
from halfsplit.jobs.fold import fold
from halfsplit.jobs.kit import default_kit
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.other_starts import better_start, loosened, unexplained
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import make_suspects, weigh
from halfsplit.parts import family_of

UNIT = "bread maker, 230V 50Hz, class II, 580W"
STARTS = {
    "dropper": "dropper, 24V relay board",
    "linear": "linear 24V 0.1A",
    "flyback": "flyback with controller; out 24V 1A",
    "chain": "series chain: fuse, link, relay 24V, heater",
}
READINGS = (6, 5)  # cold, live


@dataclass
class Sheet:
    line: str

    def __post_init__(self) -> None:
        self.circuit = start_circuit(self.line, read_unit(Item(UNIT, 1, 1, "unit")), ())
        self.table = Table(self.circuit, make_suspects(self.circuit))
        self.blocks = [self.table.cold(), self.table.live(Condition(True))]


def entries(here: Sheet, true: Sheet, rng: np.random.Generator, wide: bool) -> tuple[list[str], str]:
    """Reading lines as typed on sheet `here` for a unit that is really `true`, and its fault."""
    words = translation(here.circuit, true.circuit)
    rows = true.table.suspects
    row = rows[0] if rng.random() < 0.2 else rows[int(rng.integers(1, len(rows)))]
    values = draw_values(loosened(true.circuit) if wide else true.circuit, 1, rng, nominal_first=False)
    unit = Drawn((rows[0], row), values, np.full((2, 1), rng.random()))
    out: list[str] = []
    for block, take, power in zip(here.blocks, READINGS, (False, True), strict=True):
        picks = []
        for c in block.columns:
            if c.function == "max":
                continue
            red, black = (words.get(net, net) for net in (c.red, c.black))
            there = true.circuit
            part = words.get(c.part or "", c.part or "")
            if c.where != c.red and c.part and part not in there.names:
                continue
            if c.part and c.where == c.part:  # read across a part: across the part of that name on the true board
                main = _ends(there, part)
                if main is None:
                    continue
                red, black = main
            if red in there.nets and black in there.nets and red != black:
                picks.append((c, make_column(c.function, red, black, Condition(power).key, where=c.where)))
        chosen = [picks[k] for k in rng.permutation(len(picks))[:take]]
        if not chosen:
            continue
        columns = list({c.key: c for _, c in chosen}.values())
        solved = live_block(there, unit, Condition(True), columns) if power else cold_block(there, unit, columns)
        out.append("on" if power else "off")
        at = {c.key: j for j, c in enumerate(solved.columns)}
        for mine, theirs in chosen:
            if theirs.key not in at:
                continue
            x = float(solved.value[1, at[theirs.key], 0])
            if np.isnan(x):
                continue
            x *= 1 + 0.005 * rng.standard_normal()
            where = mine.where if " to " in mine.where or mine.where == mine.part else f"{mine.red} to {mine.black}"
            shown = "OL" if not np.isfinite(x) or x > (mine.limit if not power else np.inf) else _typed(x, mine.function)
            suffix = mine.function if mine.function in ("r", "d", "esr", "ac") else ""
            out.append(f"{where} {shown}{'' if mine.function in ('ac', 'esr') and shown != 'OL' else ' '}{suffix}".strip())
    return out, f"{row.row.part} {row.row.way}"


def _ends(circuit, name):
    part = circuit.part(name)
    ends = family_of(part).plus_minus or tuple(part.pins)[:2]
    return (part.pins[ends[0]], part.pins[ends[1]]) if len(ends) == 2 else None


def _typed(x: float, function: str) -> str:
    if function == "c":
        return f"{x * 1e6:.3f}u"
    return f"{x:.0f}" if abs(x) > 1000 else f"{x:.3f}" if abs(x) < 10 else f"{x:.1f}"


def main() -> None:
    units = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    wide = "sizes" in sys.argv
    only = [a for a in sys.argv[2:] if a in STARTS]
    sheets = {name: Sheet(line) for name, line in STARTS.items() if not only or name in only}
    for true in sheets.values():
        for here in sheets.values():
            named = right = asked = sizes = 0
            took = 0.0
            for k in range(units):
                rng = np.random.default_rng(1000 * k + 7)
                lines, fault = entries(here, true, rng, wide)
                texts = [f"unit: {UNIT}", "symptom: dead", f"start: {here.line}", *lines]
                log = tuple(LogLine(n + 1, datetime(2030, 1, 1, tzinfo=UTC), t) for n, t in enumerate(texts))
                s = fold(log)
                if s.lost and "-v" in sys.argv:
                    print(s.lost)
                weighed = weigh(s, here.table, default_kit(), here.blocks)
                asked += unexplained(weighed)
                began = time.time()
                found = better_start(s, weighed, log)
                took = max(took, time.time() - began)
                other = found is not None and (found.line.split()[0].strip(",") != here.line.split()[0].strip(","))
                named, sizes = named + other, sizes + (found is not None and not other)
                right += found is not None and found.line.split()[0].strip(",") == true.line.split()[0].strip(",")
                if "-v" in sys.argv:
                    p = weighed.post
                    odds = f"not {p.not_on_sheet:.2f} two {p.two_at_once:.2f} best {p.row_odds.max():.2f}"
                    print("  ", fault, len(p.readings), odds, found)
            told = (
                f"looked {asked}, named another {named}, rightly {right}, another size {sizes}, of {units}; slowest {took:.1f} s"
            )
            print(f"true {true.line!r} entered as {here.line!r}: {told}", flush=True)


if __name__ == "__main__":
    main()
