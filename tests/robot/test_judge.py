"""The judge's own figures against the trade's page and against arithmetic that needs no simulator."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from halfsplit.circuit.model import Circuit, Part, Unit
from judge.board import Board, JudgeFailed, UnsafeReading, fault_list
from judge.deck import Setting
from judge.spice import transient


def circuit(parts: list[Part], **more: object) -> Circuit:
    return Circuit(Unit("test set", 230.0, 50.0, "II", 40.0), tuple(parts), {"hot": "hot-"}, **more)  # type: ignore[arg-type]


def part(ref: str, family: str, tags: str = "", pins: str = "", **values: float) -> Part:
    """pins: "a=net b=net"."""
    return Part(ref, family, dict(p.split("=") for p in pins.split()), values, tags=frozenset(tags.split()))


def linear() -> Circuit:
    """A transformer supply with bridge, reservoir and 5 V regulator."""
    return circuit([
        part("W1", "mains", pins="L=L N=N"),
        part("F1", "fuse", pins="a=L b=live", amps=0.5),
        part("T1", "transformer", pins="p1=live p2=N s1=ac1 s2=ac2", volts=230, out=9.5, rp=250, rs=0.8, mag=20),
        part("BR1", "bridge", pins="~1=ac1 ~2=ac2 +=raw -=0V"),
        part("C1", "electrolytic", pins="+=raw -=0V", farads=2200e-6, volts=25),
        part("U1", "regulator", pins="in=raw out=out gnd=0V", volts=5),
        part("C2", "electrolytic", pins="+=out -=0V", farads=100e-6, volts=16),
        part("LD1", "load", pins="+=out -=0V", volts=5, amps=0.3)])


def dropper(zener: float = 24.0) -> Circuit:
    """A capacitive dropper with bridge, zener, relay, transistor and a chip that drives it."""
    return circuit([
        part("W1", "mains", pins="L=L N=N"),
        part("F1", "fuse", pins="a=L b=live", amps=10),
        part("TL1", "thermal-link", pins="a=live b=tl"),
        part("K1", "relay", pins="com=tl no=heat c+=+24 c-=kd", volts=24, ohms=1440),
        part("HTR", "heater", pins="a=heat b=N", ohms=91),
        part("R1", "resistor", "fusible", "a=live b=r1", ohms=100, watts=1),
        part("C1", "capacitor", pins="a=r1 b=drop", farads=0.68e-6),
        part("R2", "resistor", pins="a=r1 b=drop", ohms=470e3),
        part("BR1", "bridge", pins="~1=drop ~2=N +=+24 -=hot-"),
        part("ZD1", "zener", pins="a=hot- k=+24", volts=zener),
        part("C2", "electrolytic", pins="+=+24 -=hot-", farads=470e-6, volts=35),
        part("U1", "regulator", pins="in=+24 out=+5 gnd=hot-", volts=5, amps=0.1, quiescent=3e-3),
        part("C3", "electrolytic", pins="+=+5 -=hot-", farads=100e-6, volts=10),
        part("U2", "micro", pins="vdd=+5 0v=hot- relay=drive", amps=8e-3),
        part("R6", "resistor", pins="a=drive b=base", ohms=4700),
        part("Q1", "npn", pins="b=base c=kd e=hot-"),
        part("D1", "diode", pins="a=kd k=+24"),
    ], controls={"bake": {"U2.relay": "high"}})


def flyback() -> Circuit:
    """The switching stage from 230 V: 12 V out at 2.5 A through a 431 and an opto."""
    return circuit([
        part("W1", "mains", pins="L=L N=N"),
        part("F1", "fuse", pins="a=L b=f", amps=2), part("NTC1", "ntc", pins="a=f b=line"),
        part("BR1", "bridge", pins="~1=line ~2=N +=bulk -=hot-"),
        part("C1", "electrolytic", pins="+=bulk -=hot-", farads=68e-6, volts=400),
        part("R1", "resistor", pins="a=bulk b=vcc", ohms=440e3),
        part("C2", "electrolytic", pins="+=vcc -=hot-", farads=47e-6, volts=50),
        part("U1", "controller", pins="vcc=vcc gnd=hot- gate=drv sense=cs fb=fb"),
        part("R3", "resistor", pins="a=drv b=gate", ohms=22),
        part("Q1", "fet", pins="d=drain g=gate s=cs core=core", watts=45),
        part("R4", "resistor", pins="a=cs b=hot-", ohms=0.27, watts=2),
        part("T1", "flyback", pins="p+=bulk p-=drain a+=aux a-=hot- s+=sec s-=0V core=core", out=12, aux=15),
        part("D3", "diode", pins="a=aux k=vcc"),
        part("D7", "diode", "schottky", "a=sec k=out"),
        part("C7", "electrolytic", pins="+=out -=0V", farads=2200e-6, volts=25),
        part("LD1", "load", pins="+=out -=0V", volts=12, amps=2.5),
        part("R14", "resistor", pins="a=out b=led", ohms=470),
        part("U2", "opto", pins="a=led k=cath c=fb e=hot-"),
        part("R18", "resistor", pins="a=led b=cath", ohms=1000),
        part("U3", "reference", pins="k=cath a=0V r=ref"),
        part("R15", "resistor", pins="a=out b=ref", ohms=38.3e3),
        part("R17", "resistor", pins="a=ref b=0V", ohms=10e3),
        part("CY1", "capacitor", pins="a=hot- b=0V", farads=2.2e-9),
    ], switching=frozenset({"drain", "core"}))


def volts(board: Board, red: str, black: str, **state: object) -> dict[str, float | bool]:
    return board.live(**state).volts(red, black)  # type: ignore[arg-type]


def test_bulk_of_an_unloaded_supply_stands_at_the_peak_of_the_mains() -> None:
    """Off-load bulk at 230 V is 320-325 V. TRADE section 3 (read): 323 V off-load."""
    found = volts(Board(flyback(), ("U1", "dead"), 1, "none"), "bulk", "hot-")
    assert 320.0 < found["dc"] < 325.0


def test_bulk_under_load_is_lower_with_ripple_at_twice_the_mains() -> None:
    """Loaded bulk is 300-320 V with ripple below I/(2 f C). TRADE section 3 (read)."""
    found = volts(Board(flyback(), None, 1, "none"), "bulk", "hot-")
    amps = 12.1 * 2.5 / 0.85 / found["dc"]
    assert 300.0 < found["dc"] < 320.0
    assert found["peak_max"] - found["peak_min"] < amps / (2.0 * 50.0 * 68e-6)


def test_regulated_rail_follows_its_divider() -> None:
    """The 431 holds its divider at 2.495 V: out = 2.495 (1 + 38.3/10) and a little for 2 uA into r (computed)."""
    found = volts(Board(flyback(), None, 1, "none"), "out", "0V")
    assert found["dc"] == pytest.approx(2.495 * 4.83 + 2e-6 * 38.3e3, abs=0.03)


def test_dropper_gives_62_milliamperes_a_microfarad() -> None:
    """Into a short the dropper gives 4 f C (Vpk - 2 drops): TRADE 3.2 (read) has 62 mA/uF at 230 V 50 Hz into 12 V.

    Taken as the drop that it makes on the zener rail: a resistor that would need more collapses the rail.
    """
    def rail(ohms: float) -> float:
        parts = [p for p in dropper(12.0).parts if p.ref in ("W1", "F1", "R1", "C1", "R2", "BR1", "C2")]
        load = part("RL", "resistor", pins="a=+24 b=hot-", ohms=ohms, watts=5)
        return float(volts(Board(circuit([*parts, load]), None, 1, "none"), "+24", "hot-")["dc"])

    ohms = 12.0 / (62e-3 * 0.68)
    assert rail(ohms) == pytest.approx(12.0, rel=0.03)


def test_transformer_supply_reservoir() -> None:
    """Reservoir off-load = 1.41 Vac - 1.8 (TRADE 3.1, read), the winding's own volts taken; ripple below I/(2 f C)."""
    idle = volts(Board(linear(), ("U1", "no-output"), 1, "none"), "raw", "0V")
    loaded = volts(Board(linear(), None, 1, "none"), "raw", "0V")
    assert idle["dc"] == pytest.approx(9.5 * math.sqrt(2.0) - 1.2, abs=0.6)
    assert loaded["peak_max"] - loaded["peak_min"] < 0.305 / (2.0 * 50.0 * 2200e-6)
    assert volts(Board(linear(), None, 1, "none"), "out", "0V")["dc"] == pytest.approx(5.0, abs=0.05)


def test_relay_takes_the_heater_in_only_when_pressed() -> None:
    """The heater has mains volts when the control is pressed, none otherwise, whatever the link says."""
    board = Board(dropper(), None, 1, "none")
    assert volts(board, "heat", "N")["ac"] < 1.0
    assert volts(board, "heat", "N", pressed=frozenset({"bake"}))["ac"] == pytest.approx(229.0, abs=3.0)
    broken = Board(dropper(), ("TL1", "open"), 1, "none")
    assert volts(broken, "heat", "N", pressed=frozenset({"bake"}))["ac"] < 1.0


def test_worn_dropper_holds_its_rail_until_the_relay_pulls() -> None:
    """TRADE 3.2 (read): rail fine unloaded, collapses when the relay pulls = the dropper lost value."""
    worn = [replace(p, values={"farads": 0.31e-6}) if p.ref == "C1" else p for p in dropper().parts]
    board = Board(dropper().with_parts(tuple(worn)), None, 1, "none")
    assert volts(board, "+24", "hot-")["dc"] > 23.0
    assert volts(board, "+24", "hot-", pressed=frozenset({"bake"}))["dc"] < 20.0


def test_board_that_hiccups_is_seen_pulsing_between_its_thresholds() -> None:
    """With the aux feed open Vcc saws between stop 10 V and start 16 V (families.md) and the output comes in bursts."""
    state = Board(flyback(), ("D3", "open"), 1, "none").live()
    vcc, out = state.volts("vcc", "hot-"), state.volts("out", "0V")
    assert state.pulsing and vcc["pulsing"] and out["pulsing"]
    assert 9.0 < vcc["peak_min"] < 10.5 and 15.5 < vcc["peak_max"] < 16.5
    assert out["max"] > 10.0 and out["min"] < 1.0


def test_shorted_switch_blows_the_fuse_and_it_stays_blown() -> None:
    """A drain-source short takes more than 1.7 x the fuse's amps; unplugged afterwards the fuse reads open."""
    board = Board(flyback(), ("Q1", "short"), 1, "none")
    assert volts(board, "bulk", "hot-")["dc"] < 1.0
    for ref in ("C1", "C2", "C7"):
        board.discharge(ref)
    assert board.cold("L", "f", "ohms").value > 5e6
    assert Board(flyback(), None, 1, "none").cold("L", "f", "ohms").value == pytest.approx(0.2 * 2**-1.48, rel=0.01)  # T2A


def test_meter_loads_a_high_impedance_pair() -> None:
    """A 4.7 M/4.7 M divider reads 40 % instead of 50 % on 10 Mohm. TRADE section 2 (read)."""
    parts = [p for p in linear().parts if p.ref != "LD1"]
    parts += [part("RA", "resistor", pins="a=raw b=mid", ohms=4.7e6), part("RB", "resistor", pins="a=mid b=0V", ohms=4.7e6)]
    state = Board(circuit(parts), None, 1, "none").live()
    raw, mid = state.volts("raw", "0V"), state.volts("mid", "0V")
    assert mid["loaded"] and not raw["loaded"]
    assert mid["dc"] / raw["dc"] == pytest.approx(10.0 / (2.0 * 10.0 + 4.7), rel=0.01)


def test_charge_bleeds_as_resistance_times_capacitance() -> None:
    """Start-up resistor open: nothing but the capacitor's own leak (1e7) bleeds the bulk (computed decay)."""
    board = Board(flyback(), ("R1", "open"), 1, "none")
    before = volts(board, "bulk", "hot-")["dc"]
    ratio = board.charge("C1", 60.0) / board.charge("C1", 5.0)
    assert board.charge("C1", 5.0) == pytest.approx(before, rel=0.03)
    assert ratio == pytest.approx(math.exp(-55.0 / (68e-6 * 1e7)), rel=0.01)


def test_running_converter_empties_its_bulk_and_a_dead_one_does_not() -> None:
    """TRADE section 2 (read): a dead supply is the more dangerous one; no ohms on it before the discharge."""
    healthy, dead = Board(flyback(), None, 1, "none"), Board(flyback(), ("Q1", "open"), 1, "none")
    healthy.live()
    dead.live()
    assert healthy.charge("C1", 5.0) < 10.0
    assert dead.charge("C1", 5.0) > 250.0
    with pytest.raises(UnsafeReading, match="C1"):
        dead.cold("bulk", "hot-", "ohms")
    dead.discharge("C1")
    dead.discharge("C2")
    assert dead.charge("C1", 5.0) < 10.0
    assert dead.cold("bulk", "drain", "ohms").value == pytest.approx(0.8, rel=0.01)


def test_cold_functions_on_single_parts() -> None:
    """Out of the circuit each part reads its own value; a junction at 1 mA lies n Vt ln 1000 under its drop at 1 A (computed)."""
    board = Board(flyback(), None, 1, "none")
    assert board.alone("R1", "ohms", "a", "b").value == pytest.approx(440e3, rel=1e-3)
    assert board.alone("C1", "capacitance", "+", "-").value == pytest.approx(68e-6, rel=0.01)
    assert board.alone("C7", "esr", "+", "-").value == pytest.approx(0.3 * (1e-4 / 2200e-6) ** 0.7, rel=0.02)
    assert board.alone("Q1", "diode", "d", "s").value == math.inf
    amps = (3.0 - 0.585) / 3e3
    assert board.alone("D3", "diode", "a", "k").value == pytest.approx(0.93 + 1.9 * 0.02585 * math.log(amps), abs=0.005)


def test_lifting_a_leg_takes_the_parallel_path_away() -> None:
    """A resistor reads low in circuit beside a winding; one leg up it reads its own ohms, refitted it does not."""
    parts = [*linear().parts, part("RX", "resistor", pins="a=live b=N", ohms=1e5)]
    board = Board(circuit(parts), None, 1, "none")
    assert board.cold("RX.a", "RX.b", "ohms").value < 260.0
    board.lift("RX", "a")
    assert board.cold("RX.a", "RX.b", "ohms").value == pytest.approx(1e5, rel=1e-3)
    board.refit("RX")
    assert board.cold("RX.a", "RX.b", "ohms").value < 260.0
    board.remove("T1")
    assert board.cold("RX.a", "RX.b", "ohms").value == pytest.approx(1e5, rel=1e-3)


def test_isolated_sides_read_open_and_their_y_capacitor_can_be_seen() -> None:
    """Hot to cold reads OL on ohms, the Y capacitor's farads on capacitance, and low when it is shorted."""
    board = Board(flyback(), None, 1, "none")
    assert board.cold("hot-", "0V", "ohms").value == math.inf
    assert board.cold("hot-", "0V", "capacitance").value == pytest.approx(2.2e-9, rel=0.03)
    assert Board(flyback(), ("CY1", "short"), 1, "none").cold("hot-", "0V", "ohms").value < 6.0


def test_zener_out_lets_the_dropper_rail_burst_its_capacitor() -> None:
    """SAFETY no. 4 (read): without its zener the dropper passes 35 V on C2 and heads for the peak."""
    healthy, open_zener = Board(dropper(), None, 1, "none"), Board(dropper(), ("ZD1", "open"), 1, "none")
    assert healthy.over_rating() == []
    assert "C2" in {e.ref for e in open_zener.over_rating()}
    healthy.remove("ZD1")
    assert "C2" in {e.ref for e in healthy.over_rating()}


def test_series_lamp_takes_the_volts_of_a_shorted_set() -> None:
    """Behind a 60 W lamp a shorted bulk leaves the lamp nearly all the mains, and the fuse whole."""
    board = Board(flyback(), ("C1", "short"), 1, "none")
    state = board.live(lamp=60.0)
    assert state.volts("L", "N")["ac"] < 40.0
    assert not board.blown


def test_boards_differ_by_seed_and_repeat_with_the_same_seed() -> None:
    """Two seeds are two units; one seed is one unit."""
    one, same, other = (volts(Board(flyback(), None, seed), "out", "0V")["dc"] for seed in (3, 3, 4))
    assert one == same != other
    assert abs(one / 12.1 - 1.0) < 0.06


def test_unknown_way_is_refused_and_every_listed_way_builds() -> None:
    """fault_list gives only ways that the judge can build; any other word is an error that names the known ones."""
    with pytest.raises(ValueError, match="known: open, up"):
        Board(flyback(), ("R1", "melted"), 1)
    faults = [(c, f) for c in (linear(), dropper(), flyback()) for f in fault_list(c)]
    assert len(faults) > 140
    for c, fault in faults:
        assert ".end" in Board(c, fault, 2).deck_text()


def test_vcc_capacitor_open_keeps_the_converter_from_starting() -> None:
    """Without its Vcc capacitor the controller tries many times a cycle and never runs; the output stays at nothing."""
    state = Board(flyback(), ("C2", "open"), 1, "none").live()
    assert state.volts("out", "0V")["dc"] < 0.5
    assert 10.0 < state.volts("vcc", "hot-")["dc"] < 16.5


def test_a_simulation_that_cannot_run_is_a_failure_and_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """A singular deck raises JudgeFailed; a board whose runs all fail counts one failure and gives no reading."""
    two_sources = "* loop\nV1 a 0 1\nV2 a 0 2\nR1 a 0 1k\n.tran 1m 10m\n.end\n"
    with pytest.raises(JudgeFailed):
        transient(two_sources, 10e-3)

    def no_run(deck: str, stop: float) -> None:
        raise JudgeFailed("said so")

    monkeypatch.setattr("judge.powered.transient", no_run)
    board = Board(linear(), None, 1, "none")
    with pytest.raises(JudgeFailed, match="three tries"):
        board.live()
    assert board.failures == 1


def test_a_part_without_its_value_is_refused() -> None:
    """A family whose page gives no default has to bring the value; the error names part and value."""
    with pytest.raises(ValueError, match="HTR.*ohms"):
        Board(circuit([part("HTR", "heater", pins="a=x b=y")]), None, 1)


def test_ripple_looked_at_closely_is_that_of_a_much_finer_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rail with short charging pulses: exact, its ripple is within 1 % of a run with 20 times as many steps; plain it is 3 % small."""
    import judge.powered as powered

    def ripple(exact: bool) -> float:
        found = Board(linear().with_parts(tuple(p for p in linear().parts if p.ref != "LD1")), None, 1, "none", exact).live().volts("raw", "0V")
        return float(found["peak_max"]) - float(found["peak_min"])

    plain, close = ripple(False), ripple(True)
    run = powered.run
    fine = ".options method=trap reltol=1e-5 abstol=1e-10 chgtol=1e-12 vntol=1e-6 gmin=1e-12 rshunt=1e12 numdgt=9 temp=26.827 tnom=26.827"
    monkeypatch.setattr(powered, "run", lambda parts, setting, stop, step, choices=(): run(parts, setting, stop, step / 20.0, (fine, fine)))
    true = ripple(False)
    assert close == pytest.approx(true, rel=0.01)
    assert abs(plain - true) > 2.0 * abs(close - true)


def test_zener_volts_are_those_at_5_milliamperes() -> None:
    """Makers state volts at a test current, the slope's part in them: 12 V at 5 mA, 12 V + 10 mA x 30 ohm at 15 mA (arithmetic)."""
    parts = [p for p in linear().parts if p.ref in ("W1", "F1", "T1", "BR1", "C1")]
    supply = 9.5 * math.sqrt(2.0)

    def shown(ohms: float) -> tuple[float, float]:
        made = [*parts, part("RZ", "resistor", pins="a=raw b=z", ohms=ohms), part("ZD", "zener", pins="a=0V k=z", volts=6.0, ohms=30.0)]
        board = Board(circuit(made), None, 1, "none")
        return float(volts(board, "z", "0V")["dc"]), float(volts(board, "raw", "z")["dc"]) / ohms

    for ohms in ((supply - 7.0) / 5e-3, (supply - 7.0) / 15e-3):
        z, amps = shown(ohms)
        assert z == pytest.approx(6.0 + 30.0 * (amps - 5e-3) + 0.02585 * math.log(amps / 5e-3), abs=0.02)


def test_a_run_begins_where_the_last_one_ended() -> None:
    """3300 uF behind a bridge, with regulators that once sent the search for the start elsewhere: 50 us on, the reservoir has its volts."""
    from halfsplit.circuit.starting import start_circuit
    from judge.powered import cap_volts, run

    board = Board(start_circuit("linear 12V 1A, 5V 0.3A", Unit("radio", 230.0, 50.0, "II", 30.0), ()), None, 1, "none")
    settled = board.live().settled
    setting = Setting(live=True, modes=settled.modes, volts=settled.volts)
    begun = cap_volts(*run(board.parts(), setting, 1e-3, 1e-5), 50e-6)
    for ref in ("reservoir", "in-cap", "out-cap", "5V-out-cap"):
        assert begun[ref] == pytest.approx(settled.volts[ref], rel=0.01), ref
