"""Emitters of the families that switch, regulate or drive: relay, micro, opto, reference, regulator, switching stage."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from .deck import CHATTER, TIE, TRIPPED, VT, Deck, emits
from .fitted import OPEN, Fitted
from .passive import rising, winding


def above(x: str, width: float) -> str:
    """Smooth max(x, 0): off by width/2 at the corner."""
    return f"(0.5*(({x})+sqrt(({x})*({x})+{width * width:.6g})))"


def ramp(x: str) -> str:
    """x held between 0 and 1, both corners 0.01 soft."""
    def soft(y: str) -> str:
        return f"(max(0,{y})+0.01*ln(1+exp(-abs({y})/0.01)))"

    return f"({soft(f'({x})')}-{soft(f'(({x})-1)')})"


def wake(v: str, full: float) -> str:
    """A supply current rises in proportion to its volts until `full`, round the corner as x/(1 + x^8)^(1/8)."""
    return rising(f"({v})/{full:.6g}")


@emits("relay", "changeover")
def _relay(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["c+"], pins["c-"], part.values["ohms"])
    if "com" in pins and "no" in pins:
        shut = "welded" in part.values or (bool(deck.on(part, "in")) and "stuck" not in part.values)
        deck.resistor(pins["com"], pins["no"], 0.02 if shut else OPEN)
    if "nc" in pins:
        over = "welded" in part.values or "rest" in part.values or bool(deck.on(part, "in"))
        deck.resistor(pins["com"], pins["nc"], OPEN if over else 0.02)


INPUTS = ("adc", "in", "reset")  # a chip's pin of such a name only listens (common practice)


@emits("micro")
def _micro(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    vdd, ground, v = pins["vdd"], pins["0v"], part.values
    if deck.setting.rests:
        deck.resistor(vdd, ground, v["idle"])
        return
    runs = bool(deck.on(part, "runs")) and "dead" not in v
    amps = v["amps"] * (1.0 if runs else 0.1)
    deck.current(vdd, ground, f"{amps:.9g}*{wake(deck.v(vdd, ground), 0.6 * v['volts'])}")
    driven = deck.setting.pressed
    outputs = {pin: net for pin, net in pins.items() if pin not in ("vdd", "0v") and not pin.lower().startswith(INPUTS)}
    for net in dict.fromkeys(outputs.values()):  # "does" names an output as PART.output; two names of one leg are one output
        high = runs and "stuck" not in v and any(f"{part.ref}.{pin}" in driven for pin, at in outputs.items() if at == net)
        deck.resistor(net, vdd if high else ground, 100.0)


@emits("opto-triac")
def _opto_triac(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.diode(pins["a"], pins["k"], 1.15, 1.9, 10e-3)


@emits("scr")
def _scr(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    a, k, g, mid = pins["a"], pins["k"], pins["g"], deck.inner()
    deck.resistor(a, k, 1e8)
    if deck.on(part, "fired") and "dead" not in part.values:
        deck.diode(a, k, 1.1, 1.9)
    deck.resistor(g, mid, 10.0)
    deck.diode(mid, k, 0.7, 1.5, 10e-3)
    deck.resistor(g, k, 10e3)


@emits("opto")
def _opto(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    mid = deck.inner()
    sense = deck.add("V", pins["a"], mid, 0.0)
    deck.diode(mid, pins["k"], part.values["drop"], 1.9, 10e-3)
    c, e = pins["c"], pins["e"]
    if deck.setting.rests:
        deck.add("C", c, e, 10e-12)  # as beside every current while on: without it the steps of a cold reading run out
    x = f"exp(-max(0,{deck.v(c, e)})/{VT:.9g})"
    deck.current(c, e, f"{part.values['ctr']:.9g}*max(0,i({sense}))*(1-{x})/(1+1e4*{x})")


@emits("reference")
def _reference(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    k, a, r = pins["k"], pins["a"], pins["r"]
    over = above(f"1.5*(({deck.v(r, a)})-{part.values['volts']:.9g})", 1e-4)
    deck.current(k, a, f"0.1*tanh(10*{over})*(1-exp(-max(0,({deck.v(k, a)})-1.9)/0.05))")
    if not deck.setting.rests:
        deck.current(k, a, f"{part.values['idle']:.9g}*{wake(deck.v(k, a), 1.9)}")
    deck.resistor(r, a, 1.25e6)


@emits("adjustable", "ldo", "regulator")
def _regulator(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, sign = part.values, 1.0 if part.values["volts"] > 0 else -1.0
    i, o, g = pins["in"], pins["out"], pins["adj" if "adj" in pins else "gnd"]
    vin, vout = f"({sign:g}*({deck.v(i, g)}))", f"({sign:g}*({deck.v(o, g)}))"
    if deck.setting.rests:
        return
    deck.current(i, g, f"{sign:g}*{v['quiescent']:.6g}*{wake(vin, abs(v['volts']))}")
    if "dead" in v:
        return
    head = f"({vin}-{v['dropout']:.6g})"
    target = f"min({abs(v['volts']):.9g},max(0,{head})+0.05*ln(1+exp(-abs({head})/0.05)))"
    # CHOICE: sources only; with `in` below `dropout` it gives nothing.
    behind = 0.05 / 16.0 if "adj" in pins else 0.05
    deck.current(i, o, f"{sign:g}*max(0,min({1.5 * v['amps']:.6g},(({target})-{vout})/{behind:.6g}))")


def _limited(target: str, out: str, amps: float) -> str:
    """What drives `out` towards its target behind 0.05 ohm, up to amps."""
    return f"max(0,min({amps:.6g},(({target})-{out})/0.05))"


@emits("oscillator")
def _oscillator(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    c, b, e, ground, v = pins["c"], pins["b"], pins["e"], pins["gnd"], part.values
    name = f"q{len(deck.lines)}"
    deck.lines.append(f".model {name} NPN(IS=1e-14 BF={v['gain']:.6g} BR=2 CJE=10p CJC=10p)")
    deck.add("Q", c, b, e, e, name)
    if not deck.setting.rests:
        deck.resistor(b, e, 1e5)
    if deck.setting.rests or not deck.on(part, "swings"):
        return
    low = deck.inner()
    deck.add("V", low, e, -0.1)
    deck.resistor(low, b, 1e3)
    trip = f"1/(1+exp(max(-40,min(40,(({deck.v(pins['lim'], ground)})-0.35)/0.014))))"
    _moves(deck, part, (c, e), ramp(f"(3.0*{trip}-({deck.v(e, ground)})-0.3)/2.7"), v["knee"])


@emits("buck-module")
def _buck_module(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    """Two currents: into out, and k of it out of in, both by way of gnd."""
    v, i, o, g = part.values, pins["in"], pins["out"], pins["gnd"]
    deck.resistor(o, g, v["divider"])
    if deck.setting.rests or "dead" in v:
        return
    vin, vout = f"({deck.v(i, g)})", f"({deck.v(o, g)})"
    deck.current(i, g, f"{v['quiescent']:.6g}*{wake(vin, 0.6 * v['volts'])}")
    head = f"({vin}-{v['dropout']:.6g})"
    target = f"min({v['volts']:.9g},max(0,{head})+0.05*ln(1+exp(-abs({head})/0.05)))"
    amps = _limited(target, vout, 1.5 * v["amps"])
    deck.current(g, o, amps)
    ratio = f"(max(0,{vout})/({v['efficiency']:.6g}*max(0.1,{vin})))"
    deck.current(i, g, f"{amps}*{rising(ratio)}")


@emits("adapter")
def _adapter(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, plug, minus = part.values, deck.ends.setdefault((part.ref, "plug"), deck.inner()), pins["-"]
    deck.resistor(pins["L"], pins["N"], 1e6)
    deck.resistor(plug, pins["+"], v["ohms"])
    deck.resistor(plug, minus, v["idle"])
    if "cable" in v:
        deck.resistor(plug, minus, v["cable"])
    if deck.on(part, "fed") and "dead" not in v and not deck.setting.rests:
        deck.current(minus, plug, _limited(f"{v['volts']:.9g}", f"({deck.v(plug, minus)})", 1.5 * v["amps"]))


def _held(x: str, width: float) -> str:
    """x between 0 and 1, both corners `width` soft."""
    def soft(y: str) -> str:
        return f"(max(0,{y})+{width:.6g}*ln(1+exp(-min(80,abs({y})/{width:.6g}))))"

    return f"({soft(f'({x})')}-{soft(f'(({x})-1)')})"


def _cell(deck: Deck, d: str, s: str, r: str, amps: Callable[[str], str]) -> None:
    """The coil's current in at d, its share out at s and the rest at r. amps: share -> current."""
    share = deck.inner()
    deck.add("B", share, "0", "V=" + _held(f"({deck.v(r, d)})/max(1,{deck.v(r, s)})", 0.01))
    room = f"(1-exp(-max(0,{deck.v(d, s)})/8))"
    flow = f"{amps(f'v({share})')}*{room}"
    deck.current(d, s, f"v({share})*{flow}")
    deck.current(d, r, f"(1-v({share}))*{flow}")


@emits("led-buck")
def _led_buck(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, g, vdd = part.values, pins["gnd"], pins["vdd"]
    if deck.setting.rests:
        return
    mode = deck.on(part, "runs")
    on = mode != 0.0 and "dead" not in v
    supply = deck.v(vdd, g)
    deck.current(vdd, g, f"{v['run'] if on else v['start']:.6g}*{wake(supply, 0.6)}")
    limit = v["vdd"] if on or "dead" in v else 1.02 * v["von"]
    deck.current(vdd, g, f"5e-3*exp(max(-80,min(30,(({supply})-{limit:.6g})/{VT})))")
    if not on:
        return
    mean, most = 0.5 * v["trip"], v["ovp"] * (0.995 * v["again"] if mode == TRIPPED else 1.005)

    def amps(share: str) -> str:
        sensed = f"(({deck.v(pins['cs'], g)})/({share}+0.0002))"
        by_current = _held(f"({mean:.6g}-{sensed})/{0.03 * mean:.6g}", 0.03)
        return f"{v['amps']:.6g}*{by_current}*" + _held(f"({most:.6g}-({deck.v(pins['back'], pins['d'])}))/{0.005 * most:.6g}", 0.03)

    _cell(deck, pins["d"], pins["cs"], pins["back"], amps)


@emits("led-boost")
def _led_boost(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, g = part.values, pins["gnd"]
    high = deck.inner()
    deck.add("V", high, g, 0.0 if deck.setting.rests else 2.0)
    deck.resistor(pins["fb"], high, 1e7)
    deck.resistor(pins["ovp"], g, 1e7)
    if deck.setting.rests:
        return
    on = deck.on(part, "runs") == 1.0 and "dead" not in v
    deck.current(pins["vin"], g, f"{v['run'] * (1.0 if on else 0.2):.6g}*{wake(deck.v(pins['vin'], g), 0.6 * v['von'])}")
    if not on:
        return
    most = 1.004 * v["ovp"]

    def amps(share: str) -> str:
        by_current = _held(f"({v['feedback']:.6g}-({deck.v(pins['fb'], g)}))/{0.03 * v['feedback']:.6g}", 0.03)
        return f"{v['amps']:.6g}*{by_current}*" + _held(f"({most:.6g}-({deck.v(pins['ovp'], g)}))/{0.005 * most:.6g}", 0.03)

    _cell(deck, pins["sw"], g, pins["back"], amps)


@emits("n-mosfet", "p-mosfet")
def _mosfet(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    """The simulator's own square-law transistor (Shichman and Hodges), its body diode beside it."""
    d, g, s, v = pins["d"], pins["g"], pins["s"], part.values
    kind, sign = ("NMOS", 1.0) if part.family == "n-mosfet" else ("PMOS", -1.0)
    deck.diode(*((s, d) if sign > 0 else (d, s)), 0.85, 1.7)
    if deck.setting.rests:
        return
    vth, full = (0.55 * v["vth"], 4.5) if "logic" in part.tags else (v["vth"], 10.0)
    name = f"m{len(deck.lines)}"
    deck.lines.append(f".model {name} {kind}(LEVEL=1 VTO={sign * vth:.6g} KP={1.0 / (v['ron'] * (full - vth)):.6g} IS=1e-30)")
    deck.add("M", d, g, s, s, name, "W=1e-4 L=1e-4")
    deck.add("C", g, s, 10e-12)
    deck.resistor(g, s, 1e7)


@emits("op-amp", "comparator")
def _amplifier(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, plus, minus, out = part.values, pins["v+"], pins["v-"], pins["out"]
    for pin in ("in+", "in-"):
        deck.resistor(pins[pin], minus, 2e9)
    if deck.setting.rests:
        return
    deck.current(plus, minus, f"{v['quiescent']:.6g}*{wake(deck.v(plus, minus), 1.8)}")
    if "dead" in v:
        return
    x = f"(0.5*(1+tanh(500*({deck.v(pins['in+'], pins['in-'])}))))"  # the logistic curve of the page, 1 mV wide
    short = f"({deck.v(plus, out)}-{v['head']:.6g})"
    room = f"(max(0,{short})+0.05*ln(1+exp(-abs({short})/0.05)))"
    if v["source"] > 0:
        deck.current(plus, out, f"{v['source']:.6g}*{x}*(1-exp(-{room}/0.5))")
    y = f"({deck.v(out, minus)})"
    deck.current(out, minus, f"{v['sink']:.6g}*(1-{x})*(1-exp(-max(0,{y})/0.5)+min(0,{y})/0.5)")


@emits("controller")
def _controller(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    g, v = pins["gnd"], part.values
    if deck.setting.rests:
        deck.resistor(pins["gate"], g, 1e5)
        return
    runs = deck.on(part, "runs") == 1.0 and "dead" not in v
    awake = runs or deck.on(part, "runs") == TRIPPED
    vcc = deck.v(pins["vcc"], g)
    deck.current(pins["vcc"], g, f"{v['run'] if awake else v['start']:.9g}*{wake(vcc, 1.2)}")
    clamp = min(v["clamp"], 1.25 * v["ovp"] if awake else 1.02 * v["von"])  # off, it never rises past where it would start
    deck.current(pins["vcc"], g, f"max(0,{vcc}-{clamp:.6g})/10")
    if deck.on(part, "runs") == CHATTER:  # it tries many times a second, in vain: its supply stands between voff and von
        deck.current(pins["vcc"], g, f"0.1*max(0,{vcc}-{0.5 * (v['von'] + v['voff']):.6g})")
    if not runs:  # standing still
        deck.resistor(pins["gate"], g, 10.0)
        deck.resistor(pins["fb"], g, 5e3)
        return
    five, drive = deck.inner(), deck.inner()
    deck.add("V", five, g, 5.0)
    deck.resistor(five, pins["fb"], 5e3)
    duty = ramp(f"(({deck.v(pins['fb'], g)})-0.8)/2.4")
    trip = f"1/(1+exp(max(-40,min(40,(({deck.v(pins['sense'], g)})-{v['trip']:.6g})/{0.04 * v['trip']:.6g}))))"
    deck.add("B", drive, g, f"V=3.0*{duty}*{trip}")
    deck.resistor(drive, pins["gate"], 10.0)


@emits("fet")
def _fet(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    d, s = pins["d"], pins["s"]
    deck.diode(s, d, 0.85, 1.7)
    if deck.setting.rests:
        return
    # A leak of 10 Mohm from gate to source while powered; else a gate behind 1 Gohm would still be driven.
    deck.resistor(pins["g"], s, 1e7)
    _moves(deck, part, (d, s), ramp(f"(({deck.v(pins['g'], s)})-0.3)/2.7"), 1.5)


def _moves(deck: Deck, part: Fitted, ends: tuple[str, str], x: str, knee: float) -> None:
    """The averaged power mover: watts x from drain and source into the core."""
    watts, (d, s) = part.values["watts"], ends
    vds = f"max(0,{deck.v(d, s)})"
    deck.current(d, s, f"{watts:.6g}*{x}*{vds}/({vds}*{vds}+900)")
    stage = deck.linked(part.pins["core"], "flyback", "plain-flyback") if "core" in part.pins else None
    if stage is None:
        return
    core, out = deck.nodes[part.pins["core"]], stage.values["out"]
    vc = f"max(0,v({core}))"
    into = f"({vc}+{knee:.6g})/({vc}*{vc}+{knee * knee:.6g})"  # the page: it can start, and gives constant power well above the knee
    deck.add("B", "0", core, f"I=0.85*{watts:.6g}*{x}*{vds}*{vds}/({vds}*{vds}+900)*{into}")
    # leakage and snubbing hold the core under about 1.5 x out
    deck.current(core, "0", f"1e-3*exp(max(-40,min(9,(v({core})-{1.5 * out:.6g})/{0.03 * out:.6g})))")


@emits("switcher")
def _switcher(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    d, s, bp, fb, v = pins["d"], pins["s"], pins["bp"], pins["fb"], part.values
    deck.diode(s, d, 0.85, 1.7)
    if deck.setting.rests:
        deck.resistor(pins["uv"], s, 2e9)
        return
    mode = deck.on(part, "runs")
    runs = mode == 1.0 and "dead" not in v
    deck.resistor(pins["uv"], s, 30e3)
    held = v["voff"] if mode == TRIPPED else v["von"]
    if "unfed" not in v:
        head = f"({deck.v(d, s)}-10)"
        target = f"min({held:.9g},max(0,{head})+0.05*ln(1+exp(-abs({head})/0.05)))"
        deck.current(d, bp, f"max(0,min({1.5 * v['feed']:.6g},(({target})-{deck.v(bp, s)})/0.05))")
    deck.current(bp, s, f"{v['run'] if runs else v['wait']:.9g}*{wake(deck.v(bp, s), 1.2)}")
    deck.current(bp, s, f"max(0,{deck.v(bp, s)}-6.4)/10")
    if not runs:
        deck.resistor(fb, s, 3e3)
        return
    five = deck.inner()
    deck.add("V", five, s, 5.0)
    deck.resistor(five, fb, 3e3)
    duty = ramp(f"(({deck.v(fb, s)})-0.8)/2.4")
    _moves(deck, part, (d, s), ramp(f"(3.0*{duty}-0.3)/2.7"), v["knee"])


@emits("flyback", "plain-flyback")
def _flyback(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, core = part.values, pins["core"]
    deck.resistor(pins["p+"], pins["p-"], v["rp"])
    if deck.setting.rests:
        deck.resistor(pins["s+"], pins["s-"], v["rs"])  # cold: a winding is its ohms
        if "a+" in pins:
            deck.resistor(pins["a+"], pins["a-"], v["ra"])
        deck.resistor(core, "0", TIE)
        return
    # CHOICE: the core is an energy port of its own against node 0 (the page gives it two references).
    # 10 uF make the switched-over core volts a state; it stores a few mJ.
    deck.resistor(core, "0", 1e6)
    deck.capacitor(f"{part.ref}.core", core, "0", 10e-6, slow=False)
    winding(deck, (pins["s+"], pins["s-"]), v["rs"], f"v({core})", 1.0, (core, "0"))
    if "a+" in pins:
        winding(deck, (pins["a+"], pins["a-"]), v["ra"], f"v({core})", v["aux"] / v["out"], (core, "0"))
    if "turns" in v or _rectifier_shorted(deck, part):
        deck.resistor(core, "0", v["out"] ** 2 / 2000.0)  # 2 kW at `out`: more than any stage can move


def _rectifier_shorted(deck: Deck, part: Fitted) -> bool:
    """A short across a diode on a winding end: alternating current would flow both ways."""
    ends = {part.pins[p] for p in ("s+", "s-", "a+", "a-") if p in part.pins}
    return any(p.family == "diode" and p.across and min(r for _, _, r in p.across) < 10.0 and ends & set(p.pins.values())
               for p in deck.parts)
