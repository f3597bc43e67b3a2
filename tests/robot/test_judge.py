"""The judge's own figures against the trade's page and against arithmetic that needs no simulator."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest

from halfsplit.circuit.model import Circuit, Part, Unit

sys.path.insert(0, str(Path(__file__).parent))
from judge.board import Board, JudgeFailed, UnsafeReading, fault_list  # noqa: E402


def circuit(parts: list[Part], **more: object) -> Circuit:
    return Circuit(Unit("test set", 230.0, 50.0, "II", 40.0), tuple(parts), {"hot": "hot-"}, **more)  # type: ignore[arg-type]


def part(ref: str, family: str, tags: str = "", pins: str = "", **values: float) -> Part:
    """pins: "a=net b=net"."""
    return Part(ref, family, dict(p.split("=") for p in pins.split()), values, tags=frozenset(tags.split()))


def linear() -> Circuit:
    """A transformer supply with bridge, reservoir and 5 V regulator."""
    return circuit([
        part("W1", "mains", pins="L=L N=N"), part("F1", "fuse", pins="a=L b=live", amps=0.5),
        part("T1", "transformer", pins="p1=live p2=N s1=ac1 s2=ac2", volts=230, out=9.5, rp=250, rs=0.8, mag=20),
        part("BR1", "bridge", pins="~1=ac1 ~2=ac2 +=raw -=0V"), part("C1", "electrolytic", pins="+=raw -=0V", farads=2200e-6, volts=25),
        part("U1", "regulator", pins="in=raw out=out gnd=0V", volts=5), part("C2", "electrolytic", pins="+=out -=0V", farads=100e-6, volts=16),
        part("LD1", "load", pins="+=out -=0V", volts=5, amps=0.3)])


def dropper(zener: float = 24.0) -> Circuit:
    """A capacitive dropper with bridge, zener, relay, transistor and a chip that drives it."""
    return circuit([
        part("W1", "mains", pins="L=L N=N"), part("F1", "fuse", pins="a=L b=live", amps=10),
        part("TL1", "thermal-link", pins="a=live b=tl"), part("K1", "relay", pins="com=tl no=heat c+=+24 c-=kd", volts=24, ohms=1440),
        part("HTR", "heater", pins="a=heat b=N", ohms=91), part("R1", "resistor", "fusible", "a=live b=r1", ohms=100, watts=1),
        part("C1", "capacitor", pins="a=r1 b=drop", farads=0.68e-6), part("R2", "resistor", pins="a=r1 b=drop", ohms=470e3),
        part("BR1", "bridge", pins="~1=drop ~2=N +=+24 -=hot-"), part("ZD1", "zener", pins="a=hot- k=+24", volts=zener),
        part("C2", "electrolytic", pins="+=+24 -=hot-", farads=470e-6, volts=35),
        part("U1", "regulator", pins="in=+24 out=+5 gnd=hot-", volts=5, amps=0.1, quiescent=3e-3),
        part("C3", "electrolytic", pins="+=+5 -=hot-", farads=100e-6, volts=10),
        part("U2", "micro", pins="vdd=+5 0v=hot- relay=drive", amps=8e-3), part("R6", "resistor", pins="a=drive b=base", ohms=4700),
        part("Q1", "npn", pins="b=base c=kd e=hot-"), part("D1", "diode", pins="a=kd k=+24"),
    ], controls={"bake": {"U2.relay": "high"}})


def flyback() -> Circuit:
    """The switching stage from 230 V: 12 V out at 2.5 A through a 431 and an opto."""
    return circuit([
        part("W1", "mains", pins="L=L N=N"), part("F1", "fuse", pins="a=L b=f", amps=2), part("NTC1", "ntc", pins="a=f b=line"),
        part("BR1", "bridge", pins="~1=line ~2=N +=bulk -=hot-"),
        part("C1", "electrolytic", pins="+=bulk -=hot-", farads=68e-6, volts=400),
        part("R1", "resistor", pins="a=bulk b=vcc", ohms=440e3), part("C2", "electrolytic", pins="+=vcc -=hot-", farads=47e-6, volts=50),
        part("U1", "controller", pins="vcc=vcc gnd=hot- gate=drv sense=cs fb=fb"), part("R3", "resistor", pins="a=drv b=gate", ohms=22),
        part("Q1", "fet", pins="d=drain g=gate s=cs core=core", watts=45), part("R4", "resistor", pins="a=cs b=hot-", ohms=0.27, watts=2),
        part("T1", "flyback", pins="p+=bulk p-=drain a+=aux a-=hot- s+=sec s-=0V core=core", out=12, aux=15),
        part("D3", "diode", pins="a=aux k=vcc"), part("D7", "diode", "schottky", "a=sec k=out"),
        part("C7", "electrolytic", pins="+=out -=0V", farads=2200e-6, volts=25), part("LD1", "load", pins="+=out -=0V", volts=12, amps=2.5),
        part("R14", "resistor", pins="a=out b=led", ohms=470), part("U2", "opto", pins="a=led k=cath c=fb e=hot-"),
        part("R18", "resistor", pins="a=led b=cath", ohms=1000), part("U3", "reference", pins="k=cath a=0V r=ref"),
        part("R15", "resistor", pins="a=out b=ref", ohms=38.3e3), part("R17", "resistor", pins="a=ref b=0V", ohms=10e3),
        part("CY1", "capacitor", pins="a=hot- b=0V", farads=2.2e-9),
    ], switching=frozenset({"drain", "core"}))
