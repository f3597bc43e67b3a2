"""Random benches: in whatever order things are done, ohms never meet a charged capacitor, power never a missing protector.

The bench below knows the true volts; the program is told only what the meter's display shows.
"""

import math
from dataclasses import dataclass, field, replace

from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.jobs.safety import (
    COLD_FUNCTIONS,
    HEAVY_ODDS,
    Board,
    Damage,
    Island,
    Islands,
    SwitchOn,
    Waiver,
    may_measure,
    may_switch_on,
    prove_dead,
    saw_volts,
)

CAPS = ("bulk-cap", "out-cap")
SIDE = {"bulk-cap": "hot", "out-cap": "cold"}
FULL = {"bulk-cap": 325.0, "out-cap": 24.0}
BOARD = Board(
    island_of={"bulk": "hot", "out": "cold"}, proven_cold=frozenset({"cold"}), peak={"bulk": 325.0, "out": 24.0}, rating=600.0
)


@dataclass
class Bench:
    """True volts, the plug, and whether the lead is broken inside its insulation (it stays so until the next sitting)."""

    volts: dict[str, float] = field(default_factory=lambda: dict.fromkeys(CAPS, 0.0))
    plugged: bool = False
    broken: bool = False
    blown: bool = False
    now: float = 0.0
    state: Islands = field(
        default_factory=lambda: Islands({"hot": Island(named=("bulk-cap",)), "cold": Island(named=("out-cap",))})
    )

    def shown(self, volts: float) -> float:
        return 0.0 if self.broken else round(volts, 1)

    def do(self, act: str, amount: float) -> None:
        getattr(self, f"_{act}")(amount)
        self.now += 1.0
        for cap in CAPS:
            self.volts[cap] = FULL[cap] if self.plugged and not self.blown else self.volts[cap] * math.exp(-1.0 / 100)

    def _on(self, _: float) -> None:
        self.plugged, self.state = True, self.state.plugged_in()

    def _off(self, _: float) -> None:
        self.plugged, self.state = False, self.state.unplugged()

    def _wait(self, amount: float) -> None:
        self.now += 2500 * amount
        if not self.plugged or self.blown:
            self.volts = {cap: v * math.exp(-25 * amount) for cap, v in self.volts.items()}

    def _discharge(self, amount: float) -> None:
        if not self.plugged or self.blown:
            self.volts[CAPS[amount > 0.5]] *= 0.02

    def _blow(self, _: float) -> None:
        self.blown = True  # the fuse: plugged in, and nothing on the capacitors

    def _routine(self, amount: float) -> None:
        """What a careful hand does in one go, so that the walk gets past `dead` often enough to be worth its name."""
        for act in ("off", "source", "discharge", "dead"):
            for side in (0.0, 1.0):
                if act != "discharge" or amount < 0.5:
                    getattr(self, f"_{act}")(side)

    def _crack(self, _: float) -> None:
        self.broken = True

    def _sitting(self, _: float) -> None:
        self.broken, self.state = False, self.state.forgotten()

    def _source(self, _: float) -> None:
        self.state = self.state.meter_showed("m", read=self.shown(9.0), known=9.0, now=self.now)

    def _read(self, amount: float) -> None:
        cap = CAPS[amount > 0.5]
        self.state = saw_volts(self.state, SIDE[cap], cap, self.shown(self.volts[cap]))

    def _dead(self, amount: float) -> None:
        cap = CAPS[amount > 0.5]
        self.state, _ = prove_dead(
            self.state, SIDE[cap], {cap: self.shown(self.volts[cap])}, meter="m", now=self.now, expected={cap: FULL[cap]}
        )


ACTS = ["on", "off", "wait", "discharge", "crack", "blow", "sitting", "source", "read", "dead", "routine"]
STEPS = st.lists(
    st.tuples(st.sampled_from([*ACTS, "on", "off", "source", "dead", "dead", "routine"]), st.floats(0, 1)),
    min_size=8,
    max_size=30,
)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(STEPS)
def test_ohms_never_meet_a_charged_capacitor(steps):
    """With honest entries, a lead that may break at any moment, and any order of acts: ohms go only where under 10 V is true."""
    bench = Bench()
    for act, amount in steps:
        bench.do(act, amount)
        for net, cap in (("bulk", "bulk-cap"), ("out", "out-cap")):
            for function in sorted(COLD_FUNCTIONS):
                if may_measure(bench.state, function, net, board=BOARD, now=bench.now):
                    assert not bench.plugged
                    assert abs(bench.volts[cap]) < 10.0


@settings(max_examples=200, deadline=None, derandomize=True)
@given(STEPS)
def test_no_mains_side_reading_without_a_yes(steps):
    """While on, nothing on the mains side is read: this bench has no isolation transformer and nobody said yes."""
    bench = Bench()
    for act, amount in steps:
        bench.do(act, amount)
        if bench.state.power("hot", bench.now) in ("on", "unknown"):
            assert not any(may_measure(bench.state, f, "bulk", board=BOARD, now=bench.now) for f in ("v", "ac", "max", "r", "a"))


def test_the_random_bench_can_reach_dead():
    """The walk above is no empty promise: this one ends with ohms allowed, also after a zero made good."""
    bench = Bench()
    for act, amount in (("source", 0), ("on", 0), ("off", 0), ("discharge", 0), ("dead", 0)):
        bench.do(act, amount)
    assert may_measure(bench.state, "r", "bulk", board=BOARD, now=bench.now)
    bench = Bench()
    for act, amount in (("source", 0), ("on", 0), ("off", 0), ("wait", 0.5), ("dead", 0), ("source", 0)):
        bench.do(act, amount)
    assert may_measure(bench.state, "r", "bulk", board=BOARD, now=bench.now)


NAMES = st.lists(st.sampled_from(["F1", "TL1", "ZD1", "R21"]), max_size=2).map(tuple)
NUMBER = st.one_of(st.none(), st.floats(allow_nan=True, allow_infinity=True), st.floats(0, 500))
DAMAGE = st.lists(
    st.builds(
        Damage, part=st.just("C2"), rating=st.just("volts"), unit=st.just("V"), limit=NUMBER, stress=NUMBER, odds=st.floats(0, 1)
    ),
    max_size=3,
).map(tuple)
FACTS = st.builds(
    SwitchOn,
    solved=st.sampled_from([True, True, False]),
    damage=DAMAGE,
    protectors_out=NAMES,
    protectors_changed=NAMES,
    limiters_out=NAMES,
    refit=NAMES,
    doubts=NAMES,
    convicted=NAMES,
    cause_open=st.booleans(),
    waiver=st.one_of(st.none(), st.builds(Waiver, st.text(max_size=3), st.text(max_size=9))),
    fitted=NAMES,
    cold_gate=st.one_of(st.none(), st.booleans()),
    bench_on=st.booleans(),
    isolated=st.booleans(),
    transformer_va=NUMBER,
    set_watts=NUMBER,
)
EMPTY = {"protectors_out": (), "protectors_changed": (), "limiters_out": (), "refit": (), "doubts": (), "bench_on": False}


@settings(max_examples=300, deadline=None, derandomize=True)
@given(FACTS, st.sampled_from(["protectors_out", "protectors_changed"]))
def test_power_never_meets_a_missing_protector(facts, which):
    """Whatever else is true, waived, fitted or confirmed: a protector out or changed is a no."""
    fields = {name: getattr(facts, name) for name in facts.__dataclass_fields__}
    assert not may_switch_on(SwitchOn(**{**fields, which: ("F1",)}))
    best = SwitchOn(
        solved=True, cause_open=False, cold_gate=True, waiver=facts.waiver, set_watts=20.0, transformer_va=250.0, isolated=True
    )
    assert may_switch_on(best)
    assert not may_switch_on(replace(best, **{which: ("F1",)}))


@settings(max_examples=400, deadline=None, derandomize=True)
@given(FACTS)
def test_power_never_meets_a_part_past_its_rating(facts):
    """If the answer is go, every row above 1 % has a known stress within a known rating, and nothing is out or in doubt."""
    for given_facts in (facts, SwitchOn(**{**{n: getattr(facts, n) for n in facts.__dataclass_fields__}, **EMPTY})):
        if may_switch_on(given_facts):
            assert given_facts.solved
            assert not any(getattr(given_facts, name) for name in EMPTY)
            for row in given_facts.damage:
                if row.odds > HEAVY_ODDS:
                    assert row.stress is not None and row.limit is not None
                    assert -row.limit <= row.stress <= row.limit
