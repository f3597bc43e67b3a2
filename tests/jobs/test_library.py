"""What other programs use: plain data in, odds and readings out."""

from __future__ import annotations

from typing import Any

import pytest

from halfsplit.circuit.model import Unit, circuit_to_data
from halfsplit.circuit.starting import start_circuit
from halfsplit.errors import InputError
from halfsplit.jobs.library import Diagnosis

UNIT = Unit("radio", 230.0, 50.0, "II", 25.0)
OFFER = [
    {"function": "v", "red": "raw", "black": "0V", "state": "on"},
    {"function": "v", "red": "+12", "black": "0V", "state": "on"},
    {"function": "ac", "red": "primary", "black": "N", "state": "on"},
    {"function": "r", "red": "inlet", "black": "live", "state": "dead"},
]


def plain() -> dict[str, Any]:
    return circuit_to_data(start_circuit("linear 12V 1A", UNIT, ("dead",)))


def renamed(data: dict[str, Any]) -> dict[str, Any]:
    """Every designator and every net called something else; L, N and the outlet keep their names, they are the world's."""
    keep = {"L", "N"}
    nets = {
        n: (n if n in keep else f"net{i}")
        for i, n in enumerate(dict.fromkeys(n for p in data["parts"] for n in p["pins"].values()))
    }
    refs = {p["ref"]: (p["ref"] if p["family"] == "mains" else f"Z{i}") for i, p in enumerate(data["parts"])}
    out = dict(data)
    out["parts"] = [
        {**p, "ref": refs[p["ref"]], "place": p["place"], "pins": {k: nets[n] for k, n in p["pins"].items()}}
        for p in data["parts"]
    ]
    out["grounds"] = {k: nets.get(v, v) for k, v in data["grounds"].items()}
    for key in ("cold_claims", "cant", "switching"):
        out[key] = [nets.get(n, n) for n in data[key]]
    out["chain"] = [refs.get(c, c) for c in data["chain"]]
    return {"data": out, "nets": nets, "refs": refs}


def test_odds_over_parts_and_ways_add_up() -> None:
    """Ways, nothing wrong, not on the sheet and two at once sum to one."""
    d = Diagnosis(plain(), readings=OFFER)
    d.enter({**OFFER[0], "value": 18.9})
    post = d.posterior()
    total = sum(post["ways"].values()) + post["nothing_wrong"] + post["not_on_sheet"] + post["two_at_once"]
    assert total == pytest.approx(1.0, abs=1e-9)


def test_only_offered_readings_are_proposed() -> None:
    """The list given is the list used."""
    d = Diagnosis(plain(), readings=OFFER)
    offered = {(o["function"], o["red"], o["black"], o["state"]) for o in OFFER}
    nxt = d.next_round()
    assert nxt["verdict"] == "go on" and nxt["readings"]
    assert {(r["function"], r["red"], r["black"], r["state"]) for r in nxt["readings"]} <= offered


def test_names_do_not_matter() -> None:
    """Designators and nets renamed give the same odds to 1e-9."""
    data = plain()
    other = renamed(data)
    nets, refs = other["nets"], other["refs"]
    a = Diagnosis(data, readings=OFFER)
    b = Diagnosis(other["data"], readings=[{**o, "red": nets[o["red"]], "black": nets[o["black"]]} for o in OFFER])
    for reading, value in ((OFFER[2], 230.5), (OFFER[0], 0.02)):
        a.enter({**reading, "value": value})
        b.enter({**reading, "red": nets[reading["red"]], "black": nets[reading["black"]], "value": value})
    one, two = a.posterior(), b.posterior()
    for part, odds in one["parts"].items():
        assert two["parts"][refs[part]] == pytest.approx(odds, abs=1e-9)


def test_line_volts_up_to_a_point_and_none_after_it_put_the_fault_between() -> None:
    """Common practice: 230 V before the fuse, none after it: the fuse is open, by itself or because something behind it shorted."""
    d = Diagnosis(plain(), readings=OFFER)
    d.enter({"function": "ac", "red": "inlet", "black": "N", "state": "on", "value": 231.0})
    d.enter({"function": "ac", "red": "live", "black": "N", "state": "on", "value": 0.0})
    post = d.posterior()
    heavy = [way for way, odds in post["ways"].items() if odds > 0.02]
    assert "fuse open" in heavy[:4]
    assert all(way == "fuse open" or "short" in way for way in heavy), heavy


def test_a_misleading_entry_put_first_is_outvoted() -> None:
    """A slipped first reading (no contact on the primary) does not convict against four that agree on the regulator."""
    d = Diagnosis(plain(), readings=OFFER)
    d.enter({**OFFER[3], "value": "OL"})  # probe on lacquer: the fuse looks open
    d.enter({"function": "ac", "red": "live", "black": "N", "state": "on", "value": 230.2})
    d.enter({**OFFER[2], "value": 230.4})
    d.enter({**OFFER[0], "value": 20.6})
    d.enter({**OFFER[1], "value": 0.0})
    assert next(iter(d.posterior()["parts"])) != "fuse"


def test_without_the_decisive_entry_nobody_is_convicted() -> None:
    """No reading on the secondary side: several parts remain, and the verdict is to go on."""
    d = Diagnosis(plain(), readings=OFFER)
    d.enter({**OFFER[2], "value": 230.0})
    assert d.next_round()["verdict"] == "go on"
    assert max(d.posterior()["parts"].values()) < 0.95


def test_acts_change_what_a_reading_means() -> None:
    """With one leg of the reservoir up, raw to 0 V is another reading than before, and the lifted leg can be named."""
    d = Diagnosis(plain(), readings=OFFER)
    d.act("lift", "reservoir.+")
    d.enter({"function": "r", "red": "reservoir.+^", "black": "0V", "state": "dead", "value": 0.4})
    assert next(iter(d.posterior()["parts"])) == "reservoir"


@pytest.mark.parametrize(
    "bad",
    [
        {"function": "v", "red": "rwa", "black": "0V", "state": "on", "value": 1.0},
        {"function": "v", "red": "raw", "black": "0V", "state": "onn", "value": 1.0},
        {"function": "v", "red": "raw", "black": "0V", "value": 1.0},
        {"function": "v", "red": "raw", "black": "0V", "state": "on"},
    ],
)
def test_bad_readings_name_what_is_wrong(bad: dict[str, Any]) -> None:
    """Unknown net, unknown state, missing key, missing value."""
    with pytest.raises(InputError):
        Diagnosis(plain(), readings=OFFER).enter(bad)
