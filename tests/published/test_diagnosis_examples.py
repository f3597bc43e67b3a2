"""Textbook diagnosis, answered by the same posterior and planner that serve the bench.

SOURCES  data/diagnosis_examples.csv (each figure with source and mark) and data/diagnosis_networks.json (tables recalled).
TAKEN    discrete examples as degenerate outlooks: a row is a whole state, a column shows an exact count, slips off;
         resistor strings as ordinary outlooks whose rows come from Ohm's law, worked out here.
BOUND    printed figures hold to half of their last digit; computed ones to the digits the file gives.
"""

from __future__ import annotations

import csv
import itertools
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import LOGIC, Posterior, posterior
from halfsplit.diagnosis.proposal import Prices
from halfsplit.diagnosis.verdict import verdict

DATA = Path(__file__).parent / "data"
LINES = (DATA / "diagnosis_examples.csv").read_text(encoding="utf-8").splitlines()
CASES = {line["id"]: line for line in csv.DictReader(LINES)}
NETWORKS = json.loads((DATA / "diagnosis_networks.json").read_text(encoding="utf-8"))


def counted(names, spans, states):
    """An outlook of exact counts. states: (part, prior, values (columns, draws))."""
    columns = tuple(Column(n, "count", n, "", n, "any", span=float(s), minutes=1.0) for n, s in zip(names, spans, strict=True))
    rows = tuple(Row(part, "state" if part else "nothing wrong", prior) for part, prior, _ in states)
    value = np.array([v for _, _, v in states], dtype=np.float64)
    return Outlook(rows, columns, value, np.zeros(value.shape[:2], dtype=bool))


def bits(post: Posterior) -> float:
    p = post.row_odds[post.row_odds > 0]
    return float(-(p * np.log2(p)).sum())


def marginal(post: Posterior, part: str) -> float:
    return sum(float(o) for r, o in zip(post.rows, post.row_odds, strict=True) if part in r.part.split("+"))


def gains(outlook, post):
    found = next_readings(outlook, post, most=99)
    return {outlook.columns[p.column].key: p.gain for p in found}, [outlook.columns[p.column].key for p in found]


def states_of(parts, p):
    for k in range(len(parts) + 1):
        for bad in itertools.combinations(parts, k):
            yield bad, math.prod(p[q] if q in bad else 1 - p[q] for q in parts)


# ---- polybox -------------------------------------------------------------------------------------------------------

BOX = NETWORKS["polybox"]


def propagate(bad, known):
    """Values that follow from the working parts and what was seen; None where they contradict."""
    v, inputs = dict(known), BOX["inputs"]
    work = [BOX["parts"][q] for q in BOX["parts"] if q not in bad]
    for _ in range(2 * len(BOX["parts"])):
        for out, _, expression in work:
            a, b = (expression.split("*") if "*" in expression else expression.split("+"))
            if "*" in expression:
                new = {out: inputs[a] * inputs[b]}
            else:
                known3 = {k: v[k] for k in (a, b, out) if k in v}
                new = {}
                if a in v and b in v:
                    new[out] = v[a] + v[b]
                if len(known3) >= 2 and out in v:
                    new |= {b: v[out] - v[a]} if a in v else {}
                    new |= {a: v[out] - v[b]} if b in v else {}
            if any(v.get(k, x) != x for k, x in new.items()):
                return None
            v |= new
    return v


def polybox(p, m):
    """Each cell is what the state predicts there, given what stands before it in the row; NaN where it predicts nothing."""
    seen = BOX["observed"]
    states = []
    for bad, prior in states_of(list(BOX["parts"]), dict.fromkeys(BOX["parts"], p)):
        cells = []
        for name, given in (("F", {}), ("G", {"F": seen["F"]}), ("X", seen), ("Y", seen), ("Z", seen)):
            v = propagate(bad, given)
            cells.append([math.nan if v is None else v.get(name, math.nan)])
        states.append(("+".join(bad), prior, cells))
    outlook = counted("FGXYZ", [m] * 5, states)
    return outlook, posterior(outlook, [Reading(0, seen["F"]), Reading(1, seen["G"])], setting=LOGIC)


def test_polybox_keeps_27_states_and_finds_the_four_minimal_candidates():
    """poly-1, read (second-hand): minimal candidates M1, A1, M2+M3, M2+A2; 27 of 32 states stay."""
    _, post = polybox(0.01, 1)
    kept = [frozenset(r.part.split("+")) for r, o in zip(post.rows, post.row_odds, strict=True) if o > 0]
    assert len(kept) == 27
    smallest = {k for k in kept if not any(other < k for other in kept)}
    assert smallest == {frozenset({"M1"}), frozenset({"A1"}), frozenset({"M2", "M3"}), frozenset({"M2", "A2"})}


def test_polybox_conflicts_follow_from_the_states_that_stay():
    """poly-2, recalled: the minimal conflicts are A1 M1 M2 and A1 A2 M1 M3. Second check: sets hit by every state kept."""
    _, post = polybox(0.01, 1)
    kept = [frozenset(r.part.split("+")) for r, o in zip(post.rows, post.row_odds, strict=True) if o > 0]
    parts = list(BOX["parts"])
    sets = [frozenset(s) for k in range(1, 6) for s in itertools.combinations(parts, k)]
    conflicts = [s for s in sets if all(s & k for k in kept)]
    smallest = {s for s in conflicts if not any(other < s for other in conflicts)}
    assert smallest == {frozenset({"A1", "M1", "M2"}), frozenset({"A1", "A2", "M1", "M3"})}


# poly-3 to poly-7, all computed (own enumeration): p, m, odds of M1 alone, entropy, expected entropy after X, Y, Z
@pytest.mark.parametrize(
    ("case", "p", "m", "single", "entropy", "after"),
    [
        ("poly-4", 0.01, 1, 0.478, 1.3594, (0.3646, 1.2801, 1.3146)),
        ("poly-5", 0.01, 16, 0.4962, 1.0714, (0.0383, 1.0635, 1.0670)),
        ("poly-6", 0.1, 1, 0.3194, 2.9305, (1.9925, 2.5329, 2.6817)),
        ("poly-7", 0.1, 16, 0.4598, 1.5054, (0.3164, 1.4323, 1.4566)),
    ],
)
def test_polybox_odds_and_the_next_measurement(case, p, m, single, entropy, after):
    """M1 and A1 share the odds, and measuring X leaves least open."""
    assert CASES[case]["mark"] == "computed"
    outlook, post = polybox(p, m)
    assert post.part_odds["M1"] == pytest.approx(single, abs=6e-5)
    assert post.part_odds["A1"] == pytest.approx(post.part_odds["M1"], abs=1e-12)
    assert bits(post) == pytest.approx(entropy, abs=6e-5)
    gain, order = gains(outlook, post)
    assert order[0] == "X"
    for name, left in zip("XYZ", after, strict=True):
        assert bits(post) - gain[name] == pytest.approx(left, abs=1e-4), name


@pytest.mark.parametrize(
    ("p", "m", "expected"),
    [(0.01, 1, (0.4976, 0.0196, 0.0148, 0.4976, 0.0148)), (0.1, 1, (0.4869, 0.1674, 0.1319, 0.4869, 0.1319))],
)
def test_polybox_marginals(p, m, expected):
    """poly-3 and poly-6, computed: odds of each part being bad, alone or with others, M1 M2 M3 A1 A2."""
    _, post = polybox(p, m)
    for part, odds in zip(("M1", "M2", "M3", "A1", "A2"), expected, strict=True):
        assert marginal(post, part) == pytest.approx(odds, abs=6e-5)


def test_polybox_outcomes_of_measuring_x():
    """poly-4, computed: P(X=4) .4926, P(X=6) .5024 before the .0051 that predict nothing are shared out between them."""
    outlook, post = polybox(0.01, 1)
    x = next(p for p in next_readings(outlook, post) if outlook.columns[p.column].key == "X")
    chance = {o.low: o.chance for o in x.outcomes}
    assert chance[4.0] == pytest.approx(0.4926 + 0.0051 / 2, abs=1.5e-4)
    assert chance[6.0] == pytest.approx(0.5024 + 0.0051 / 2, abs=1.5e-4)
    assert {o.low: o.means[0][0] for o in x.outcomes} == {4.0: "M1", 6.0: "A1"}


# ---- inverters -----------------------------------------------------------------------------------------------------


def inverters(p):
    parts = [f"I{k + 1}" for k in range(4)]
    states = []
    for bad, prior in states_of(parts, dict(zip(parts, p, strict=True))):
        draws = []
        for outs in itertools.product((0, 1), repeat=4):
            node, line = 1, []
            for k, part in enumerate(parts):
                node = outs[k] if part in bad else 1 - node
                line.append(node)
            draws.append(line)
        states.append(("+".join(bad), prior, np.array(draws).T))
    outlook = counted(["n1", "n2", "n3", "n4"], [2] * 4, states)
    return outlook, posterior(outlook, [Reading(3, 0.0)], setting=LOGIC)


@pytest.mark.parametrize(
    ("case", "p", "faulty", "entropy", "after", "best"),
    [
        ("inv-1", (0.01,) * 4, (0.2538,) * 4, 2.1221, (1.3184, 1.1322, 1.3184), "n2"),
        ("inv-2", (0.025, 0.01, 0.01, 0.01), (0.4633, 0.1853, 0.1853, 0.1853), 2.0027, (1.0219, 1.0708, 1.3282), "n1"),
    ],
)
def test_inverter_chain_is_probed_in_the_middle_of_the_odds_not_of_the_chain(case, p, faulty, entropy, after, best):
    """inv-1 and inv-2, computed: a doubtful first gate moves the best probe from the middle to node 1."""
    assert CASES[case]["mark"] == "computed"
    outlook, post = inverters(p)
    for k, odds in enumerate(faulty):
        assert marginal(post, f"I{k + 1}") == pytest.approx(odds, abs=6e-5)
    assert bits(post) == pytest.approx(entropy, abs=6e-5)
    gain, order = gains(outlook, post)
    assert order[0] == best
    for name, left in zip(("n1", "n2", "n3"), after, strict=True):
        assert bits(post) - gain[name] == pytest.approx(left, abs=1e-4)


def test_full_adder_has_three_minimal_diagnoses():
    """reiter-1, recalled: X1; X2 with O1; X2 with A2. Second check: the enumeration of states here is independent of it."""
    parts = ["X1", "X2", "A1", "A2", "O1"]
    states = []
    for bad, prior in states_of(parts, dict.fromkeys(parts, 0.01)):
        draws = []
        for outs in itertools.product((0, 1), repeat=5):
            free = dict(zip(parts, outs, strict=True))
            a, b, c = 1, 0, 1

            def gate(name, good, free=free, bad=bad):
                return free[name] if name in bad else good

            x1 = gate("X1", a ^ b)
            total, a1, a2 = gate("X2", x1 ^ c), gate("A1", a & b), gate("A2", c & x1)
            draws.append((total, gate("O1", a1 | a2)))
        states.append(("+".join(bad), prior, np.array(draws).T))
    post = posterior(counted(["sum", "carry"], [2, 2], states), [Reading(0, 1.0), Reading(1, 0.0)], setting=LOGIC)
    kept = [frozenset(r.part.split("+")) for r, o in zip(post.rows, post.row_odds, strict=True) if o > 0]
    smallest = {k for k in kept if not any(other < k for other in kept)}
    assert smallest == {frozenset({"X1"}), frozenset({"X2", "O1"}), frozenset({"X2", "A2"})}


def test_sequencing_rule_starts_where_odds_per_cost_are_highest():
    """pc-1, recalled: test in descending p/c; p=(.6,.3,.1), c=(6,1,1): 5.3 in the rule's order, 6.5 in the given one."""
    p, c = (0.6, 0.3, 0.1), (6.0, 1.0, 1.0)
    outlook = counted(["t1", "t2", "t3"], [2] * 3, [(f"P{k}", p[k], np.eye(3)[k][:, None]) for k in range(3)])
    outlook = replace(outlook, columns=tuple(replace(col, minutes=m) for col, m in zip(outlook.columns, c, strict=True)))

    def cost(order):
        """Minutes until the faulty part is found, testing in this order and updating by the posterior after each."""
        total, reached, readings = 0.0, 1.0, []
        for k in order:
            post = posterior(outlook, readings, setting=LOGIC)
            total += reached * Prices().of(outlook.columns[k])
            hit = post.part_odds.get(f"P{k}", 0.0)
            reached *= 1.0 - hit
            if reached < 1e-12:
                break
            readings = [*readings, Reading(k, 0.0)]
        return total

    post = posterior(outlook, [], setting=LOGIC)
    assert next_readings(outlook, post)[0].column == 1
    assert cost((1, 0, 2)) == pytest.approx(5.3, abs=1e-9)
    assert cost((0, 1, 2)) == pytest.approx(6.5, abs=1e-9)
    assert min(itertools.permutations(range(3)), key=lambda o: round(cost(o), 9))[0] == 1


# ---- Bayesian networks ---------------------------------------------------------------------------------------------


def network(name):
    """Rows are all states of the network's own variables; tables recalled, see data/diagnosis_networks.json."""
    tables = NETWORKS[name]
    free = [v for v in tables if isinstance(tables[v], dict)]
    states = []
    for values in itertools.product((0, 1), repeat=len(free)):
        s = dict(zip(free, values, strict=True))
        for v, table in tables.items():
            if isinstance(table, str):  # written as "T or L"
                s[v] = int(any(s[w] for w in table.split(" or ")))
        prior = 1.0
        for v in free:
            yes = next(p for key, p in tables[v].items() if all(s[key[i]] == int(key[i + 1]) for i in range(0, len(key), 2)))
            prior *= yes if s[v] else 1 - yes
        states.append(("+".join(v for v in tables if s[v]), prior, [[s[v]] for v in tables]))
    return counted(list(tables), [2] * len(tables), states), list(tables)


def after(name, **evidence):
    outlook, names = network(name)
    readings = [Reading(names.index(k), float(v)) for k, v in evidence.items()]
    post = posterior(outlook, readings, setting=LOGIC)
    return lambda v: marginal(post, v)


def test_burglary_network():
    """bayes-1, recalled: P(burglary | both call) = .284. Second check: .001 x .94 x ... worked out by hand below."""
    b = 0.001 * (0.002 * 0.95 + 0.998 * 0.94) * 0.63 + 0.001 * (0.002 * 0.05 + 0.998 * 0.06) * 0.0005
    n = 0.999 * (0.002 * 0.29 + 0.998 * 0.001) * 0.63 + 0.999 * (0.002 * 0.71 + 0.998 * 0.999) * 0.0005
    got = after("burglary", J=1, M=1)("B")
    assert got == pytest.approx(0.284, abs=6e-4)
    assert got == pytest.approx(b / (b + n), rel=1e-9)


def test_sprinkler_network():
    """bayes-2, recalled: P(wet) .6471, P(sprinkler | wet) .4298, P(rain | wet) .7079."""
    assert after("sprinkler")("W") == pytest.approx(0.6471, abs=6e-5)
    assert after("sprinkler", W=1)("S") == pytest.approx(0.4298, abs=6e-5)
    assert after("sprinkler", W=1)("R") == pytest.approx(0.7079, abs=6e-5)


@pytest.mark.parametrize(
    ("case", "evidence", "expected"),
    [
        ("bayes-3", {}, {"T": 0.0104, "L": 0.055, "B": 0.45, "E": 0.0648, "X": 0.1103, "D": 0.4360}),
        ("bayes-4", {"A": 1, "D": 1}, {"S": 0.6259, "T": 0.0878, "L": 0.0995, "B": 0.8114, "E": 0.1823, "X": 0.2195}),
        ("bayes-5", {"A": 1, "D": 1, "X": 1}, {"S": 0.7020, "T": 0.3917, "L": 0.4443, "B": 0.6288}),
    ],
)
def test_chest_clinic_network(case, evidence, expected):
    """bayes-3 recalled (second-hand page), bayes-4 and bayes-5 computed."""
    assert CASES[case]["mark"] in ("recalled", "computed")
    odds = after("asia", **evidence)
    for v, p in expected.items():
        assert odds(v) == pytest.approx(p, abs=6e-5), v


# ---- resistor strings ----------------------------------------------------------------------------------------------

OPEN, SHORT, TOLERANCE = 1e9, 0.01, 0.02


def strings(ohms, drops, draws=48, seed=4):
    """An outlook of the drops over a resistor circuit. ohms: name -> nominal; drops(values) -> volts of each place."""
    rng = np.random.default_rng(seed)
    unit = {n: r * (1 + TOLERANCE * rng.uniform(-1, 1, draws)) for n, r in ohms.items()}
    rows, value = [Row("", "nothing wrong", 0.05)], [list(drops(unit).values())]
    for part in ohms:
        for way, r in (("open", OPEN), ("short", SHORT)):
            rows.append(Row(part, way, 1.0))
            value.append(list(drops(unit | {part: np.full(draws, r)}).values()))
    names = list(drops(unit))
    columns = tuple(Column(n, "v", n + "+", n + "-", n, "on", live=True, hazard="H1", span=40.0) for n in names)
    table = np.array(value)
    return Outlook(tuple(rows), columns, table, np.zeros(table.shape[:2], dtype=bool))


def series(volts):
    def drops(r):
        amps = volts / sum(r.values())
        return {f"V{n[1:]}": amps * x for n, x in r.items()}

    return drops


def bridge_of_two(r):
    """R1, then R2 beside R3, then R4, on 36 V (sum of the drops printed)."""
    pair = 1 / (1 / r["R2"] + 1 / r["R3"])
    amps = 36.0 / (r["R1"] + pair + r["R4"])
    return {"V1": amps * r["R1"], "VAB": amps * pair, "V4": amps * r["R4"]}


FOUR = {"R1": 150.0, "R2": 120.0, "R3": 180.0, "R4": 150.0}
STRINGS = {
    # Grob 4-6, read: healthy 6.0 4.8 7.2 6.0, found 0 0 24 0: R3 open.
    "grob-4-6": (FOUR, series(24.0), (0.0, 0.0, 24.0, 0.0), ("R3", "open")),
    # Grob 4-7, readings read, verdict computed (24/450 A): R4 short.
    "grob-4-7": (FOUR, series(24.0), (8.0, 6.4, 9.6, 0.0), ("R4", "short")),
    # Grob 6-3, read; R3 = 100 inferred, R2 = 150 recalled: 100 ohm left between A and B, so R2 is open.
    "grob-6-3": ({"R1": 120.0, "R2": 150.0, "R3": 100.0, "R4": 180.0}, bridge_of_two, (10.8, 9.0, 16.2), ("R2", "open")),
}


def solved(case):
    ohms, drops, volts, answer = STRINGS[case]
    outlook = strings(ohms, drops)
    return outlook, [Reading(i, v) for i, v in enumerate(volts)], answer


def test_healthy_string_has_the_printed_drops():
    """grob-4-6, read: 6.0 4.8 7.2 6.0 V, each inside the healthy band that the planner shows."""
    outlook, _, _ = solved("grob-4-6")
    shown = {p.column: p.healthy for p in next_readings(outlook, posterior(outlook, []))}
    for column, volts in enumerate((6.0, 4.8, 7.2, 6.0)):
        low, high = shown[column]
        assert low < volts < high
        assert high - low < 0.15 * volts


@pytest.mark.parametrize("case", STRINGS)
def test_textbook_readings_convict_the_textbook_part(case):
    """The readings of the book lead to its part and way of failing, and to a conviction."""
    outlook, readings, (part, way) = solved(case)
    post = posterior(outlook, readings)
    top = post.rows[int(np.argmax(post.row_odds))]
    assert (top.part, top.way) == (part, way)
    said = verdict(outlook, post, next_readings(outlook, post))
    assert (said.kind, said.parts[0]) == ("convicted", part)


@pytest.mark.parametrize("case", STRINGS)
def test_odds_do_not_depend_on_names_or_places_in_the_table(case):
    """Renamed and shuffled rows and columns get the same odds to 1e-9."""
    outlook, readings, _ = solved(case)
    rng = np.random.default_rng(11)
    r, c = rng.permutation(len(outlook.rows)), rng.permutation(len(outlook.columns))
    rows = tuple(replace(outlook.rows[i], part=outlook.rows[i].part and "part-" + outlook.rows[i].part[::-1]) for i in r)
    columns = tuple(replace(outlook.columns[i], key=f"k{i}", red=f"n{i}", where=f"w{i}") for i in c)
    other = Outlook(rows, columns, outlook.value[np.ix_(r, c)], outlook.pulsing[np.ix_(r, c)])
    place = {int(old): new for new, old in enumerate(c)}
    moved = [replace(x, column=place[x.column]) for x in readings]
    one, two = posterior(outlook, readings), posterior(other, moved)
    np.testing.assert_allclose(two.row_odds, one.row_odds[r], rtol=0, atol=1e-9)
    assert two.not_on_sheet == pytest.approx(one.not_on_sheet, abs=1e-9)


@pytest.mark.parametrize("case", STRINGS)
def test_a_misleading_entry_first_does_not_hide_the_part(case):
    """The first drop was read as healthy by a slip; the others, and the first one repeated, still lead to the part."""
    outlook, readings, (part, _) = solved(case)
    healthy = float(np.median(outlook.value[0, readings[0].column]))
    post = posterior(outlook, [Reading(readings[0].column, healthy), *readings])
    assert next(iter(post.part_odds)) == part


# What is kept of each leaves two parts: in 4-6 the open one is among R3 and R4 (or there is no supply), in 4-7 both
# 150 ohm parts would give the same current. Either entry left out would decide it.
@pytest.mark.parametrize(("case", "kept", "rivals"), [("grob-4-6", (0, 1), "R4"), ("grob-4-7", (1, 2), "R1")])
def test_without_the_decisive_entry_nobody_is_convicted(case, kept, rivals):
    """Both parts that stay share the odds, and a reading that decides between them is asked for."""
    outlook, readings, (part, _) = solved(case)
    post = posterior(outlook, [readings[k] for k in kept])
    proposals = next_readings(outlook, post)
    said = verdict(outlook, post, proposals)
    assert said.kind == "go on"
    assert post.part_odds[part] == pytest.approx(post.part_odds[rivals], rel=0.25)
    assert proposals[0].column not in kept
    assert proposals[0].gain > 0.5


@pytest.mark.parametrize(("case", "kept", "rivals"), [("grob-4-6", (0, 1), "R4"), ("grob-4-7", (1, 2), "R1")])
def test_when_the_decisive_entry_cannot_be_taken_the_parts_are_named_as_a_group(case, kept, rivals):
    """With no other place to reach, the verdict is the group of both and not a guess."""
    outlook, readings, (part, _) = solved(case)
    post = posterior(outlook, [readings[k] for k in kept])
    said = verdict(outlook, post, next_readings(outlook, post, available=kept), available=kept)
    assert said.kind == "group"
    assert {part, rivals} <= set(said.parts)


def test_the_current_alone_tells_which_parallel_branch_is_open():
    """Grob 6-3 with one drop: 90 mA leaves 100 ohm between A and B, 80 mA would leave 150."""
    outlook, readings, (part, _) = solved("grob-6-3")
    post = posterior(outlook, [readings[0]])
    assert next(iter(post.part_odds)) == part
    assert post.part_odds[part] > 10 * post.part_odds["R3"]


# ---- block isolation: the trade's own worked odds --------------------------------------------------------------------


def test_the_cheap_rail_is_read_before_the_bulk_though_bulk_comes_first():
    """Worked odds of a supply, common practice with figures computed: reading the rail splits .64/.36 = 0.94 bit in 20 s
    (0.047 bit/s); the bulk splits .18/.82 = 0.68 bit in 90 s (0.008 bit/s). Second check: the entropies from the odds."""
    blocks = {"inlet": 0.10, "bulk": 0.08, "switcher": 0.34, "rectifier": 0.12, "regulator": 0.10, "load": 0.26}
    names = list(blocks)
    states = [(b, p, [[float(names.index(b) >= 2)], [float(names.index(b) >= 4)]]) for b, p in blocks.items()]
    outlook = counted(["bulk", "rail"], [2, 2], states)
    minutes = (90 / 60, 20 / 60)
    outlook = replace(outlook, columns=tuple(replace(c, minutes=m) for c, m in zip(outlook.columns, minutes, strict=True)))
    rail, bulk = next_readings(outlook, posterior(outlook, [], setting=LOGIC))
    assert (outlook.columns[rail.column].key, outlook.columns[bulk.column].key) == ("rail", "bulk")
    assert (rail.gain, rail.rate / 60) == (pytest.approx(0.94, abs=5e-3), pytest.approx(0.047, abs=5e-4))
    assert (bulk.gain, bulk.rate / 60) == (pytest.approx(0.68, abs=5e-3), pytest.approx(0.008, abs=5e-4))
    assert rail.gain == pytest.approx(-(0.64 * math.log2(0.64) + 0.36 * math.log2(0.36)), abs=1e-9)
