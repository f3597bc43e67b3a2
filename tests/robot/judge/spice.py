"""One ngspice process: a deck in, waveforms or printed measures out. Anything odd is a JudgeFailed."""

from __future__ import annotations

import re
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
# abstol and chgtol above their defaults: else the steps follow the charge of 10 pF junctions (measured: 1000 times slower)
OPTIONS = ".options method=gear reltol=1e-3 abstol=1e-9 chgtol=1e-10 vntol=1e-5 itl1=400 itl4=60 gmin=1e-12 rshunt=1e12 numdgt=9 temp=26.827 tnom=26.827"
# What is tried one after the other before a run counts as failed: other integration, a little more leakage.
TRIES = (
    OPTIONS,
    ".options method=gear reltol=3e-3 abstol=1e-8 chgtol=1e-9 vntol=1e-4 itl1=1000 itl4=200 gmin=1e-12 rshunt=1e11 temp=26.827 tnom=26.827",
    ".options method=trap reltol=1e-3 abstol=1e-8 chgtol=1e-9 vntol=1e-4 itl1=1000 itl4=200 gmin=1e-11 rshunt=1e11 temp=26.827 tnom=26.827",
)
# A "singular matrix" on the way to the operating point is followed by its remedy (gmin stepping) or by an aborted run.
BAD = re.compile(r"timestep too small|no convergence|simulation\(s\) aborted|run simulation.*aborted|error", re.I)
HARMLESS = re.compile(r"no compatibility mode|using sparse|warning: singular matrix|^\s*$", re.I)
MEASURE = re.compile(r"^(\w+)\s*=\s*([-+0-9.eE]+|nan|inf)", re.M)


class JudgeFailed(Exception):
    """The simulator could not say; counted by the caller, never taken for a reading."""


@dataclass(frozen=True)
class Wave:
    """Waveforms of one run. time (steps,) [s]; volts: node -> (steps,) [V]; amps: source -> (steps,) [A]."""

    time: Array
    volts: dict[str, Array]
    amps: dict[str, Array]

    def of(self, node: str) -> Array:
        """Volts of a node against the deck's 0."""
        return np.zeros_like(self.time) if node == "0" else self.volts[node.lower()]


def _run(deck: str, raw: Path | None, folder: Path, timeout: float) -> str:
    file = folder / "deck.cir"
    file.write_text(deck, encoding="ascii")
    command = ["ngspice", "-n", "-b", *(["-r", str(raw)] if raw else []), str(file)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=timeout, cwd=folder, check=False)
    except subprocess.TimeoutExpired:
        raise JudgeFailed(f"ngspice did not end within {timeout:g} s") from None
    complaints = [t for t in (done.stderr + "\n" + done.stdout).splitlines() if BAD.search(t) and not HARMLESS.search(t)]
    if done.returncode != 0 or complaints:
        said = "; ".join(complaints[:3]) or done.stderr.strip()[-300:]
        raise JudgeFailed(f"ngspice ended with {done.returncode}: {said}")
    return done.stdout


def transient(deck: str, stop: float, timeout: float = 60.0) -> Wave:
    """Run a deck that holds one .tran up to `stop` [s]. Raises JudgeFailed when it ends early."""
    with tempfile.TemporaryDirectory(prefix="judge") as name:
        raw = Path(name) / "out.raw"
        _run(deck, raw, Path(name), timeout)
        if not raw.exists():
            raise JudgeFailed("ngspice wrote no waveforms")
        wave = parse_raw(raw.read_bytes())
    if wave.time[-1] < 0.999 * stop:
        raise JudgeFailed(f"ngspice stopped at {wave.time[-1]:.4g} s of {stop:.4g} s")
    if not all(np.isfinite(v).all() for v in wave.volts.values()):
        raise JudgeFailed("ngspice gave volts that are not finite")
    return wave


def measures(deck: str, timeout: float = 60.0) -> dict[str, float]:
    """Run a deck with a control script; every `name = number` that it printed."""
    with tempfile.TemporaryDirectory(prefix="judge") as name:
        text = _run(deck, None, Path(name), timeout)
    return {m.group(1): float(m.group(2)) for m in MEASURE.finditer(text)}


def parse_raw(data: bytes) -> Wave:
    """A binary waveform file of one real transient."""
    head, _, body = data.partition(b"Binary:\n")
    lines = head.decode("ascii", "replace").splitlines()
    count = next((int(t.split(":")[1]) for t in lines if t.startswith("No. Variables")), 0)
    points = next((int(t.split(":")[1]) for t in lines if t.startswith("No. Points")), 0)
    at = lines.index("Variables:") + 1 if "Variables:" in lines else 0
    if not count or not points or len(body) < 8 * count * points:
        raise JudgeFailed(f"waveform file holds {len(body)} bytes for {count} columns of {points} points")
    names = [t.split()[1] for t in lines[at : at + count]]
    table = np.frombuffer(body, dtype=np.float64, count=count * points).reshape(points, count)

    def column(kind: str) -> dict[str, Array]:
        return {n[2:-1].lower(): table[:, k].copy() for k, n in enumerate(names) if n.startswith(kind)}

    return Wave(table[:, 0].copy(), column("v("), column("i("))
