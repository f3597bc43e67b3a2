"""How long a drawing takes and how it came out: `python perf/drawing.py [SHEET ...]`.

Columns: parts, processor seconds for a new drawing and for wires alone (best of three, after warm-up), width to height, flags in place of
wires, runs of wire, crossings, words that a wire runs through, words on words.
"""

from __future__ import annotations

import sys
import time
from itertools import combinations
from pathlib import Path

from halfsplit.drawing import Drawing, draw, placement_of
from halfsplit.drawing.model import Rect
from halfsplit.drawing.turned import text_rect
from halfsplit.jobs.sheets import circuit_from_sheet

ROOT = Path(__file__).resolve().parents[1]
SHEETS = [*ROOT.glob("examples/*.yaml"), ROOT / "perf/mains_supply.yaml", *ROOT.glob("perf/isolation/sheets/*.yaml")]


def crossings(d: Drawing) -> int:
    runs = [(w.net, s) for w in d.wires for s in w.segments]
    return sum(
        n != m and a[1] == a[3] and b[0] == b[2] and a[0] < b[0] < a[2] and b[1] < a[1] < b[3]
        for (n, a), (m, b) in [*combinations(runs, 2), *combinations(runs[::-1], 2)]
    )


def meet(a: Rect, b: Rect) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def words_hit(d: Drawing) -> tuple[int, int]:
    """Words with a wire through them, and pairs of words on each other."""
    words = [text_rect(t) for p in d.parts for t in p.texts] + [text_rect(t) for t in d.texts]
    runs = [(s[0] - 0.05, s[1] - 0.05, s[2] + 0.05, s[3] + 0.05) for w in d.wires for s in w.segments]
    return sum(any(meet(w, r) for r in runs) for w in words), sum(meet(a, b) for a, b in combinations(words, 2))


def main() -> None:
    sheets = [Path(a) for a in sys.argv[1:]] or sorted(p for p in SHEETS if p.name != "bench-kit.yaml")
    circuits = [(p.stem, circuit_from_sheet(p.read_bytes(), p.name)) for p in sheets]
    draw(circuits[0][1])
    print(f"{'sheet':22s} parts  new s  wires s  w:h   flags runs cross through on")
    for name, circuit in circuits:
        new, again = [], []
        for _ in range(3):
            start = time.process_time()
            d = draw(circuit)
            new.append(time.process_time() - start)
            kept = placement_of(d)
            start = time.process_time()
            draw(circuit, kept)
            again.append(time.process_time() - start)
        left, top, right, bottom = d.box
        hit, lap = words_hit(d)
        runs = sum(len(w.segments) for w in d.wires)
        print(
            f"{name:22s} {len(circuit.parts):4d}  {min(new):6.3f} {min(again):6.3f}   {(right - left) / (bottom - top):4.2f} "
            f"{len(d.flags):4d} {runs:5d} {crossings(d):4d} {hit:5d} {lap:4d}"
        )


if __name__ == "__main__":
    main()
