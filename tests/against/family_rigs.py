"""Small boards, one or more for each family, as a technician would write them: a source, the part, what it works with."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.assemble import build_circuit
from halfsplit.circuit.model import Circuit
from halfsplit.circuit.sheet import read_sheet
from halfsplit.parts import FAMILIES

UNIT = "unit: test set, 230V 50Hz, class II, 20W"
METER = "10 Mohm meter reckoned with the slopes that the junctions have without its current"


@dataclass(frozen=True)
class Rig:
    """A sheet with one part of `family`, called `ref`.

    silent: ways that by their nature read as healthy on this board; each with its reason beside it.
    off: why the solver and the judge are known not to agree on it, where they don't.
    """

    family: str
    ref: str
    ways: tuple[str, ...]
    parts: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()
    cold: str = ""
    does: str = ""
    off: str = ""

    def circuit(self) -> Circuit:
        lines = [UNIT, "ways:", *(f"- {w}" for w in self.ways)]
        lines += ["parts:", *(f"- {p}" for p in self.parts)] if self.parts else []
        lines += [f"cold: {self.cold}"] if self.cold else []
        lines += ["does:", f"  {self.does}"] if self.does else []
        return build_circuit(read_sheet("\n".join(lines) + "\n"), FAMILIES)


# A battery on the neutral stands in for a DC supply; the outlet hangs on a megohm, so that it is there at all.
ON12 = ("+12 B9(12V) N", "L R9(1M) N")
ON24 = ("+24 B9(24V) N", "L R9(1M) N")

RIGS: dict[str, Rig] = {
    # -- in series with a line
    "fusible before a rectifier": Rig("fusible", "RF1", (
        "L RF1(4.7R 1W) in D1(1N4007) raw", "raw C1(electrolytic 10u 400V) N", "raw R1(22k) N", "in R2(470k) N")),
    "connector in a heater's line": Rig("connector", "CON1", ("L F1(T5A) live CON1 heat HTR(heater 100R 530W) N",)),
    "joint in a rail": Rig("joint", "JT1", (*ON12, "+12 JT1 out R1(22R 10W) N")),
    "ptc in a battery line": Rig("ptc", "PTC1", (*ON12, "+12 PTC1(0.5A) out R2(47R 5W) N")),
    "ptc with a short behind it": Rig("ptc", "PTC1", (*ON12, "+12 PTC1(0.5A) out R2(2R2 5W) N")),
    "wirewound sense resistor": Rig("wirewound", "R5", (*ON12, "+12 R3(10R 10W) sense R5(0.47R 5W wirewound) N")),
    "composition divider": Rig("composition", "R2", (*ON24, "+24 R1(220k) tap R2(composition 470k) N")),
    "cut-off resistor at rest": Rig("cut-off-resistor", "R1", ("L R1(47R 5W thermal-cut-off) mo HTR(heater 820R) N",)),
    "cut-off resistor overloaded": Rig("cut-off-resistor", "R1", ("L R1(47R 5W thermal-cut-off) mo HTR(heater 220R) N",)),
    "fusible with a short behind it": Rig("fusible", "RF1", (
        "L RF1(4.7R 1W) in D1(1N4007) raw", "raw R1(33R 10W) N", "in R2(22k) N")),
    "trimmer as a rheostat": Rig("trimmer", "VR1", (*ON12, "+12 R1(1k) top", "wiper R2(10R) N"), ("VR1 trimmer 4k7, a=top b=N w=wiper",)),
    "pot as a divider": Rig("pot", "VR1", (*ON12, "+12 R1(1k) top", "wiper R2(100k) N"), ("VR1 pot 10k, a=N b=top w=wiper, at 0.3",)),
    # -- capacitors
    "ceramic on a rail": Rig("ceramic", "C4", (*ON12, "+12 R1(10R 10W) rail C4(ceramic 10u 16V) N", "rail R2(470R 1W) N")),
    "ceramic that couples": Rig("ceramic", "C4", (*ON12, "L R1(100k 1W) C4(ceramic 10n 500V) sense R2(10k) N")),
    "x capacitor with its bleeder": Rig("x-cap", "CX1", (
        "L F1(T2A) live CX1(0.22u 275V) N", "live R1(470k) N", "live R2(4k7 20W) N")),
    "y capacitor across the gap": Rig("y-cap", "CY1", (
        "L R1(10R) hot HTR(heater 500R) N", "+12 B9(12V) 0V", "+12 R3(1k) 0V", "hot CY1(2n2 250V) 0V"), cold="+12, 0V"),
    # -- light
    "led with its resistor": Rig("led", "LED1", (*ON12, "+12 R1(1k) an LED1.ak(green) N")),
    "white led": Rig("led", "LED1", (*ON12, "+12 R1(150R) an LED1.ak(white 60mA) N")),
    "chips in series": Rig("led", "LED1", (*ON24, "+24 R1(100R) an LED1.ak(18.5V 100mA) N")),
    "white led of a string": Rig("led", "LED2", (
        *ON12, "+12 R1(82R) s3 LED3.ak(3.1V 60mA) s2 LED2.ak(3.1V 60mA white) s1 LED1.ak(3.1V 60mA) N"),
        off="with one LED open a string carries only what the meter takes: " + METER),
    # -- across a rail
    "tvs on a rail": Rig("tvs", "TVS1", (*ON12, "+12 R1(10R 5W) in TVS1.ka(15V 600W) N", "in R2(1k) N")),
    "tvs that clamps": Rig("tvs", "TVS1", (*ON24, "+24 R1(33R 5W) in TVS1.ka(15V 600W) N")),
    "bidirectional tvs at work": Rig("tvs", "TVS1", ("L R1(100k 2W) line TVS1.ak(24V 600W bidirectional) N",)),
    "tantalum on a rail": Rig("tantalum", "C5", (*ON12, "+12 R1(10R 5W) rail C5(tantalum 10u 25V) N", "rail R2(470R 1W) N")),
    "scr crowbar at rest": Rig("scr", "SCR1", (
        *ON12, "+12 R1(4.7R 10W) rail SCR1.ak N", "rail ZD1.ka(15V) gate R2(470R) N", "gate SCR1.g", "rail R3(100R 5W) N"),
        silent=("open",)),  # nothing asks it to fire
    "scr crowbar fired": Rig("scr", "SCR1", (
        *ON24, "+24 R1(10R 25W) rail SCR1.ak N", "rail ZD1.ka(15V) gate R2(470R) N", "gate SCR1.g")),
    "scr from the mains": Rig("scr", "SCR1", (
        "L H1(heater 100R) an SCR1.ak N", "L R1(22k 5W) D1(1N4007) gate R2(1k) N", "gate SCR1.g")),
    # -- regulators
    "adjustable with its two resistors": Rig("adjustable", "U1", (
        *ON24, "out R1(240R) adj R2(2k2) N", "out R3(150R 5W) N"), ("U1 317 1.5A, in=+24 out=out adj=adj",)),
    "adjustable without enough input": Rig("adjustable", "U1", (
        *ON12, "out R1(240R) adj R2(2k2) N", "out R3(47R 5W) N"), ("U1 317, in=+12 out=out adj=adj",)),
    "adjustable on a negative rail": Rig("adjustable", "U1", (
        "N B9(24V) -24", "L R9(1M) N", "out R1(120R) adj R2(1k) N", "out R3(150R 5W) N"), ("U1 337, in=-24 out=out adj=adj",)),
    "ldo from five volts": Rig("ldo", "U1", (
        "+5 B9(5V) N", "L R9(1M) N", "out R3(33R 2W) N"), ("U1 LDO 3.3V 0.5A, in=+5 out=out gnd=N",)),
    "1117 from a tired supply": Rig("ldo", "U1", (
        "+4 B9(4V) N", "L R9(1M) N", "out R3(33R 2W) N"), ("U1 1117-33, in=+4 out=out gnd=N",)),
    "buck module from twelve volts": Rig("buck-module", "U1", (*ON12, "+12 R1(0.47R 5W) in R2(1k 1W) N", "out R3(10R 5W) N"),
        ("U1 buck-module 5V, in=in out=out gnd=N",)),
    "buck module from a tired supply": Rig("buck-module", "U1", (
        "+5 B9(5.5V) N", "L R9(1M) N", "+5 R1(0.1R 5W) in R2(1k) N", "out R3(12R 5W) N"), ("U1 step-down 5V 2A, in=in out=out gnd=N",)),
    "led driver chip, step-down": Rig("led-buck", "U1", (
        "+310 B9(310V) N", "L R9(1M) N", "+310 R1(4R7 5W) bulk", "bulk R2(4M4) vcc C3(electrolytic 4.7u 25V) N", "cs R3(0.82R) N",
        "drain D1.ak(1N4007) bulk", "drain R8(2R5) out", "bulk R5(510k) out", "bulk R6(300R 25W) out"),
        ("U1 led-buck, vdd=vcc gnd=N d=drain cs=cs back=bulk",)),
    "led driver chip, step-up": Rig("led-boost", "U1", (
        *ON12, "+12 R1(0.1R 5W) in R2(10k) N", "in R6(0.22R 2W) sw D1.ak(1N4007) out",
        "out R5(330k) ovp R3(9.1k) N", "out R4(220R 10W) low R7(1.1R) N", "low R8(1k) fb"), (
        "U1 led-boost, vin=in gnd=N sw=sw fb=fb ovp=ovp back=out",)),
    # -- MOSFETs as switches
    "n-channel on": Rig("n-mosfet", "Q1", (
        *ON12, "+12 R1(10k) gate R2(100k) N", "gate Q1.g", "+12 R3(10R 20W) drain Q1.ds N"), ("Q1 n-mosfet 50mR",)),
    "n-channel off": Rig("n-mosfet", "Q1", (
        *ON12, "+12 R1(220k) gate R2(22k) N", "gate Q1.g", "+12 R3(10R 20W) drain Q1.ds N"), ("Q1 n-mosfet 50mR",),
        silent=("open",)),  # it carries nothing anyway; out of the circuit its body diode tells
    "logic-level n-channel half on": Rig("n-mosfet", "Q1", (
        *ON12, "+12 R1(100k) gate R2(22k) N", "gate Q1.g", "+12 R3(10k) drain Q1.ds so R4(220R) N"), ("Q1 n-channel logic 0.5R",)),
    "p-channel in a supply": Rig("p-mosfet", "Q1", (
        *ON12, "+12 R1(47k) gate R2(10k) N", "gate Q1.g", "+12 Q1.sd out R3(22R 10W) N"), ("Q1 p-mosfet 80mR",)),
    # -- amplifiers
    "comparator that pulls down": Rig("comparator", "U3", (
        *ON12, "+12 R1(10k) ref R2(10k) N", "+12 R3(10k) sense R4(22k) N", "+12 R5(4k7) out U3.out"),
        ("U3 393, in+=ref in-=sense v+=+12 v-=N",)),
    "comparator that lets go": Rig("comparator", "U3", (
        *ON12, "+12 R1(10k) ref R2(10k) N", "+12 R3(22k) sense R4(10k) N", "+12 R5(4k7) out R6(2k2) lit LED1.ak(red) N"),
        ("U3 comparator, in+=ref in-=sense out=out v+=+12 v-=N",), silent=("dead",)),  # it lets go anyway
    "op-amp behind a shunt": Rig("op-amp", "U3", (
        *ON12, "+12 R1(10R 25W) sense R2(0.1R 1W) N", "sense U3.in+", "out R3(10k) fb R4(220R) N", "fb U3.in-", "out R5(2k2) N"),
        ("U3 358, out=out v+=+12 v-=N",)),
    "op-amp at its upper end": Rig("op-amp", "U3", (
        *ON12, "+12 R1(10k) in R2(10k) N", "in U3.in+", "out R3(22k) fb R4(10k) N", "fb U3.in-", "out R5(2k2) N"),
        ("U3 op-amp, out=out v+=+12 v-=N",)),
    "op-amp that inverts": Rig("op-amp", "U3", (
        *ON24, "+24 R1(10k) mid R2(10k) N", "mid U3.in+", "+24 R3(20k) fb R4(10k) out", "fb U3.in-", "out U3.out", "out R5(4k7) N"),
        ("U3 324, v+=+24 v-=N",)),
    "op-amp on alternating volts": Rig("op-amp", "U3", (
        *ON24, "L R1(2M2) in R2(22k) mid", "+24 R3(1k) mid R4(1k) N", "in U3.in+", "out R5(22k) fb R6(10k) mid", "fb U3.in-"),
        ("U3 358, out=out v+=+24 v-=N",)),
    "comparator that squares the mains": Rig("comparator", "U3", (
        *ON12, "L R1(2M2) in R2(22k) mid", "+12 R3(1k) mid R4(1k) N", "+12 R5(4k7) out U3.out"),
        ("U3 339, in+=in in-=mid v+=+12 v-=N",)),
    # -- loads
    "resistive load": Rig("resistive-load", "J1", (*ON12, "+12 R1(2R2 10W) rail J1(dummy-load 24R) N")),
    "constant power": Rig("power-load", "J1", (*ON12, "+12 R1(1R 10W) rail J1(buck 12V 8W) N")),
    "constant power on a soft supply": Rig("power-load", "J1", (  # three times its watts is more than 24 V behind 10 ohm can give
        *ON24, "+24 R1(10R 25W) raw C1(electrolytic 100u 35V) N", "raw J1(module 12V 8W) N")),
    "untraced board": Rig("load", "J1", (*ON12, "+12 R1(2R2 10W) rail J1(load 12V 0.5A) N")),
    "micro with its output pressed": Rig("micro", "U2", (
        *ON12, "+12 R1(100R) vdd C1(electrolytic 10u 16V) N", "U2.relay R2(4k7) base R3(10k) N"),
        ("U2 micro 5V 8mA, vdd=vdd 0v=N", "ZD1 zener 5.1V, k=vdd a=N"), does="on: U2.relay high"),
    # -- what stood here before
    "lead and plug": Rig("lead", "W1", ("L W1 in HTR(heater 100R 530W) N",)),
    "mains switch": Rig("switch", "SW1", ("L SW1 in HTR(heater 100R 530W) N",)),
    "fuse": Rig("fuse", "F1", ("L F1(T3.15A) in HTR(heater 100R 530W) N",)),
    "thermal link": Rig("thermal-link", "TL1", ("L TL1(192C) in HTR(heater 100R 530W) N",)),
    "thermostat": Rig("stat", "TH1", ("L TH1(bimetal 90C) in HTR(heater 100R 530W) N",)),
    "inrush limiter": Rig("ntc", "NTC1", ("L NTC1(5R) in HTR(heater 470R 100W) N",)),
    "temperature sensor": Rig("ntc", "RT1", (*ON12, "+12 R1(47k) sense RT1(NTC 100k) N")),
    "varistor": Rig("varistor", "MOV1", ("L F1(T6.3A) in MOV1(275V) N", "in HTR(heater 470R 100W) N"),
        silent=("open",)),  # a healthy one reads OL too, until the next surge
    "resistor": Rig("resistor", "R1", (*ON12, "+12 R1(10k) tap R2(22k) N")),
    "film capacitor": Rig("capacitor", "C1", ("L R1(100R 2W) in C1(0.47u 400V) drop R2(1k 2W) N",)),
    "electrolytic behind a diode": Rig("electrolytic", "C1", (
        "L R3(1k 20W) low R4(100R 5W) N", "low D1(1N4007) raw C1(electrolytic 470u 63V) N", "raw R1(2k2 1W) N")),
    "inductor": Rig("inductor", "L1", (*ON12, "+12 L1(1mH) out R1(4.7R 20W) N"), silent=("shorted-turns",)),  # on DC
    "choke": Rig("choke", "LF1", ("L LF1.a in HTR(heater 100R 530W) back LF1.b N",)),
    "transformer": Rig("transformer", "T1", ("sec R1(22R 10W) 0V",), (
        "T1 transformer 230V 12V, p1=L p2=N s1=sec s2=0V, rp 220R, rs 0.6R",), cold="sec, 0V"),
    "split transformer with a bridge": Rig("split-transformer", "T1", (
        "+24 R1(220R 10W) 0V", "0V R2(220R 10W) -24", "+24 C1(470u 50V) 0V", "0V C2(470u 50V) -24"), (
        "T1 split-transformer 230V 18V, p1=L p2=N s1=sa ct=0V s2=sb, rp 110R, rs 1.2R", "BR1 bridge 1A, ~=sa ~=sb +=+24 -=-24"),
        cold="0V, +24, -24, sa, sb"),
    "output transistor": Rig("npn", "Q1", (
        *ON12, "+12 R1(1k) base R2(220R) em", "base Q1.b", "+12 Q1.ce em R3(10R 20W) N"), ("Q1 npn output 15A 150V",)),
    "diode": Rig("diode", "D1", ("L R3(10k 5W) low D1(1N4007) out R1(1k 2W) N", "low R4(10k 2W) N")),
    "bridge": Rig("bridge", "BR1", ("L R1(1k 50W) in R2(4k7 5W) N", "plus R3(2k2 10W) minus"), (
        "BR1 bridge 1A, ~=in ~=N +=plus -=minus",)),
    "zener": Rig("zener", "ZD1", (*ON24, "+24 R1(470R 1W) out ZD1.ka(12V 1.3W) N", "out R2(10k) N")),
    "npn": Rig("npn", "Q1", (*ON12, "+12 R1(10k) base R2(10k) N", "base Q1.b", "+12 R3(100R 2W) col Q1.ce N"), ("Q1 npn",)),
    "pnp": Rig("pnp", "Q1", (*ON12, "+12 R1(10k) base R2(10k) N", "base Q1.b", "+12 Q1.ec col R3(100R 2W) N"), ("Q1 pnp",)),
    "opto": Rig("opto", "U1", (*ON12, "+12 R1(2k2) an U1.ak ka R3(10R) N", "+12 R2(100k) col U1.ce N"), ("U1 opto",)),
    "opto-triac": Rig("opto-triac", "U1", (
        *ON12, "+12 R1(1k) an U1.ak ka R3(10R) N", "L R2(10k 10W) mt U1.64 N"), ("U1 opto-triac",)),
    "triac": Rig("triac", "Q1", ("L HTR(heater 100R) mt Q1.21 N", "L R1(33k 2W) gate R2(1k) N", "gate Q1.g"), ("Q1 triac",)),
    "diac that fires a triac": Rig("diac", "D1", (
        "L R9(4R7 50W) in HTR(heater 100R 530W) mt Q1.21 N", "mt R1(82k 1W) cap C1(capacitor 100n) N", "cap D1 Q1.g"), ("Q1 triac", "D1 diac")),
    "slide": Rig("slide", "VR1", (*ON12, "+12 R1(1k) top", "wiper R2(10R) N"), ("VR1 slide 4k7, a=top b=N w=wiper",), does="half: VR1.b high"),
    "reference": Rig("reference", "U1", (
        *ON12, "+12 R1(1k) cath U1.ka N", "cath R2(10k) ref R3(10k) N", "ref U1.r"), ("U1 431",)),
    "regulator": Rig("regulator", "U1", (*ON12, "out R1(47R 1W) N"), ("U1 7805, in=+12 out=out gnd=N",)),
    "relay pulled in": Rig("relay", "K1", (*ON24, "+24 K1.coil N", "L K1.no heat HTR(heater 100R) N"), ("K1 24V 1440R",)),
    "changeover pulled in": Rig("changeover", "K1", (
        *ON24, "+24 K1.coil N", "L K1.no heat HTR(heater 100R) N", "L K1.nc rest R1(10k 10W) N"), ("K1 changeover 24V 1440R",),
        silent=("rest-open",)),  # it is away from rest while on; cold it shows
    "changeover at rest": Rig("changeover", "K1", (
        *ON12, "+12 R2(1k5) drive K1.coil N", "L K1.no heat HTR(heater 100R) N", "L K1.nc rest R1(10k 10W) N"),
        ("K1 changeover 24V 1440R",), silent=("coil-open", "stuck-open")),  # it isn't asked to pull in
    "heater": Rig("heater", "HTR", ("L R1(1R 10W) in HTR(heater 100R 530W) N",)),
    "motor": Rig("motor", "M1", ("L R1(1R 10W) in M1(motor 38R) N",)),
    "lamp of twelve volts": Rig("lamp", "LA1", (*ON12, "+12 LA1(lamp 12V 10W) N")),
    "lamp": Rig("lamp", "LA1", ("L R1(10R 10W) in LA1(lamp 230V 60W) N",)),
    # -- sources
    "adapter into a load": Rig("adapter", "PS1", ("L R9(1M) N", "+12 R1(47R 10W) 0V", "+12 C1(electrolytic 100u 25V) 0V"),
        ("PS1 adapter 12V 0.5A, L=L N=N +=+12 -=0V",), cold="+12, 0V"),
    "battery into a load": Rig("battery", "B1", ("+12 B1(lead-acid 12V) N", "+12 R1(10R 20W) N", "L R9(1M) N")),
}
