"""The judge with a memory on disk: a board of the simulator whose every answer is asked once, over all runs.

One file a board, one JSON line an answer, appended as it is given: a killed run loses nothing. The key of an answer is the reading
with the whole state in which it was taken (legs up, parts out, what has blown, controls, lamp, what was discharged).
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from perf.isolation import ROOT

from halfsplit.circuit.model import Circuit, circuit_to_data
from judge.acts import OffTheBoard
from judge.spice import JudgeFailed
from judged import JudgedBoard, make_drawn

Faults = Sequence[tuple[tuple[str, str], float | None]]
SHOWN = ("dc", "ac", "min", "max", "peak_min", "peak_max", "pulsing")


@cache
def judge_version() -> str:
    """A judge that was changed is asked anew."""
    folder = ROOT / "tests" / "robot" / "judge"
    return hashlib.sha256(b"".join(f.read_bytes() for f in sorted(folder.glob("*.py")))).hexdigest()[:16]


SPENT = {"seconds": 0.0, "asked": 0.0, "found": 0.0}  # of this process: what the simulator cost, and what it did not


class Memory:
    """Answers of one board. folder None: in this process only."""

    def __init__(self, folder: Path | None, name: str) -> None:
        self.file = folder / f"{name}.jsonl" if folder else None
        self.known: dict[str, Any] = {}
        if self.file and self.file.exists():
            for line in self.file.read_text(encoding="utf-8").splitlines():
                try:
                    key, value = json.loads(line)
                except ValueError:
                    continue  # the line that was being written when a run was killed
                self.known[key] = value

    def get(self, key: str, ask: Callable[[], Any]) -> Any:
        """The kept answer, or that of the simulator. Raises JudgeFailed, also again for what failed before."""
        if key in self.known:
            SPENT["found"] += 1
        else:
            before = time.monotonic()
            try:
                value = ask()
            except JudgeFailed as failed:
                value = {"failed": str(failed)[:300]}
            SPENT["seconds"] += time.monotonic() - before
            SPENT["asked"] += 1
            self.known[key] = json.loads(json.dumps(value))
            self._write(key)
        value = self.known[key]
        if isinstance(value, dict) and "failed" in value:
            raise JudgeFailed(value["failed"])
        return value

    def _write(self, key: str) -> None:
        if self.file:
            self.file.parent.mkdir(parents=True, exist_ok=True)
            with self.file.open("a", encoding="utf-8") as stream:
                stream.write(json.dumps([key, self.known[key]]) + "\n")


def board_key(circuit: Circuit, faults: Faults, seed: int, spread: str) -> str:
    """One name for one simulated board."""
    data = {**circuit_to_data(circuit), "symptom": []}
    told = json.dumps([data, [[*f, s] for f, s in faults], seed, spread, judge_version()], sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()[:24]


class KeptLive:
    """A settled state whose volts are kept. Asks the simulator for the state only when a reading is not known."""

    def __init__(self, board: KeptBoard, key: str, settle: Callable[[], Any]) -> None:
        self.board, self.key, self.settle = board, key, settle

    def volts(self, red: str, black: str) -> Mapping[str, Any]:
        def ask() -> dict[str, Any]:
            got = self.settle().volts(red, black)
            return {k: (bool if k == "pulsing" else float)(got[k]) for k in SHOWN if k in got}

        found: Mapping[str, Any] = self.board.memory.get(f"{self.key}|v|{red}|{black}", ask)
        return found


class KeptBoard(OffTheBoard):
    """What `JudgedBoard` does, with a memory. The simulator's own board is made, and brought to the state, only when it is needed."""

    def __init__(self, circuit: Circuit, faults: Faults, seed: int, spread: str, folder: Path | None) -> None:
        self.circuit, self.faults, self.seed, self.spread = circuit, tuple(faults), seed, spread
        self.memory = Memory(folder, board_key(circuit, faults, seed, spread))
        super().__init__()
        self.blown: dict[str, float] = {}
        self.discharged: set[str] = set()
        self._last: tuple[str, Callable[[], Any]] | None = None
        self._real: JudgedBoard | None = None

    # -- the simulator behind it
    def _acts(self) -> str:
        legs = ",".join(f"{r}.{p}" for r, p in sorted(self.lifted))
        return f"{legs}/{','.join(sorted(self.removed))}/{','.join(sorted(self.blown))}"

    def _at(self, lifted: Iterable[tuple[str, str]], removed: Iterable[str], blown: Mapping[str, float]) -> JudgedBoard:
        if self._real is None:
            self._real = make_drawn(self.circuit, self.faults, self.seed, self.spread)
        self._real.lifted, self._real.removed = set(lifted), set(removed)
        self._real.blown = {(k.partition("|")[0], k.partition("|")[2]): v for k, v in blown.items()}
        return self._real

    # -- readings
    def live(self, pressed: Iterable[str] = (), lamp: float | None = None) -> KeptLive:
        """As the judge's; what this state has blown stays blown."""
        now = frozenset(pressed)
        key = f"live|{self._acts()}|{','.join(sorted(now))}|{lamp}"
        lifted, removed, blown = frozenset(self.lifted), frozenset(self.removed), dict(self.blown)

        def settle() -> Any:
            return self._at(lifted, removed, blown).live(now, lamp)

        def ask() -> dict[str, float]:
            settle()
            assert self._real is not None
            return {f"{ref}|{mode}": v for (ref, mode), v in self._real.blown.items()}

        self.blown = dict(self.memory.get(f"{key}|blown", ask))
        self._last, self.discharged = (key, settle), set()
        return KeptLive(self, key, settle)

    def over_rating(self, pressed: Iterable[str] = (), lamp: float | None = None) -> list[str]:
        state = self.live(pressed, lamp)

        def ask() -> list[str]:
            state.settle()
            assert self._real is not None
            return [str(x) for x in self._real.over_rating(frozenset(pressed), lamp)]

        found: list[str] = self.memory.get(f"{state.key}|over", ask)
        return found

    def charge(self, ref: str, seconds: float = 10.0) -> float:
        if self._last is None:
            return 0.0
        name = self.circuit.part(ref).ref
        if name in self.discharged:
            return 0.0
        key, settle = self._last

        def ask() -> dict[str, float]:
            settle()
            assert self._real is not None
            for other in self.discharged:
                self._real.discharge(other)
            return {k: float(v) for k, v in self._real.charges(seconds).items()}

        held = self.memory.get(f"{key}|charge|{seconds}|{','.join(sorted(self.discharged))}", ask)
        return float(held.get(name, 0.0))

    def discharge(self, ref: str) -> None:
        self.discharged.add(self.circuit.part(ref).ref)

    def cold(self, red: str, black: str, function: str) -> float:
        def ask() -> float:
            real = self._at(self.lifted, self.removed, self.blown)
            for part in self.circuit.parts:  # who takes care that nothing is charged is the watcher of the robot
                real.discharge(part.ref)
            return float(real.cold(red, black, function))

        return float(self.memory.get(f"cold|{self._acts()}|{function}|{red}|{black}", ask))

    def alone(self, ref: str, function: str, red_pin: str, black_pin: str) -> float:
        def ask() -> float:
            return float(self._at((), (), self.blown).alone(ref, function, red_pin, black_pin))

        return float(self.memory.get(f"alone|{','.join(sorted(self.blown))}|{ref}|{function}|{red_pin}|{black_pin}", ask))
