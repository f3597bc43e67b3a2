"""Trade words for places and nets: what people say, and what a starting sheet calls it."""

from __future__ import annotations

from halfsplit.circuit.model import Circuit

# word -> places or nets, the first that this circuit has is meant (common practice)
SYNONYMS: dict[str, tuple[str, ...]] = {
    "main filter": ("bulk-cap", "reservoir"), "bulk cap": ("bulk-cap",), "bulk capacitor": ("bulk-cap",),
    "main cap": ("bulk-cap", "reservoir"), "reservoir cap": ("reservoir", "bulk-cap", "rail-cap"),
    "smoothing cap": ("reservoir", "bulk-cap", "rail-cap"), "filter cap": ("reservoir", "bulk-cap", "rail-cap"),
    "raw b+": ("bulk", "raw"), "b+": ("bulk", "raw"),
    "hot ground": ("hot-",), "hot minus": ("hot-",), "primary ground": ("hot-",),
    "cold ground": ("0V",), "ground": ("0V",), "gnd": ("0V",), "secondary ground": ("0V",),
    "ntc": ("inrush",), "thermistor": ("inrush",), "ntc limiter": ("inrush",), "inrush limiter": ("inrush",),
    "mov": ("varistor",), "surge clamp": ("varistor",), "vdr": ("varistor",),
    "x capacitor": ("x-cap",), "y capacitor": ("y-cap",), "line filter": ("choke",), "common-mode choke": ("choke",),
    "rectifier bridge": ("bridge",), "bridge rectifier": ("bridge",), "mains rectifier": ("bridge", "mains-diode"),
    "start resistor": ("start-up-R",), "startup resistor": ("start-up-R",), "start-up resistor": ("start-up-R",),
    "kick-start resistor": ("start-up-R",), "vcc capacitor": ("vcc-cap",),
    "aux cap": ("vcc-cap",), "bootstrap cap": ("vcc-cap",),
    "chip": ("controller",), "ic": ("controller", "micro"), "pwm": ("controller",), "chopper": ("switch",), "fet": ("switch",),
    "mosfet": ("switch",), "switching transistor": ("switch",), "gate resistor": ("gate-R",), "gate stopper": ("gate-R",),
    "sense resistor": ("sense-R",), "source resistor": ("sense-R",), "current sense": ("sense-R",),
    "snubber diode": ("clamp-diode",), "snubber cap": ("clamp-C",), "snubber resistor": ("clamp-R",),
    "output diode": ("rectifier",), "secondary diode": ("rectifier",),
    "output cap": ("out-cap",), "output capacitor": ("out-cap",),
    "431": ("reference",), "shunt reference": ("reference",), "error amp": ("reference",), "optocoupler": ("opto",),
    "coupler": ("opto",), "top resistor": ("divider-top",),
    "bottom resistor": ("divider-low",), "feedback": ("fb",), "comp": ("fb",),
    "dropper": ("dropper-C",), "dropper cap": ("dropper-C",), "x2": ("dropper-C", "x-cap"), "bleeder": ("bleed-R",),
    "fusible": ("fusible-R",), "fusible resistor": ("fusible-R",), "flameproof": ("fusible-R",),
    "rail capacitor": ("rail-cap",), "clamp zener": ("zener",),
    "freewheel diode": ("coil-diode",), "flywheel diode": ("coil-diode",),
    "relay driver": ("driver",), "driver transistor": ("driver",), "base resistor": ("driver-R",),
    "thermal link": ("link",), "thermal fuse": ("link",), "thermal cut-out": ("link", "stat"), "one-shot": ("link",),
    "thermostat": ("stat",), "bimetal": ("stat",), "element": ("heater",), "mains transformer": ("transformer",),
    "processor": ("micro",), "controller chip": ("controller",), "voltage regulator": ("regulator",), "mains lead": ("lead",),
    "plug": ("lead",), "cord": ("lead",), "mains fuse": ("fuse",), "mains switch": ("switch",), "power switch": ("switch",),
    "standby bulk": ("bulk-cap",), "standby bridge": ("bridge",),
}


def place_words(circuit: Circuit) -> dict[str, str]:
    """Trade word (lower case) -> place or net of this circuit. A word that is itself a place or net here is left out."""
    here = {p.place for p in circuit.parts if p.place} | set(circuit.nets)
    low = {name.lower() for name in here}
    found = {word: next((name for name in names if name in here), None) for word, names in SYNONYMS.items()}
    return {word: name for word, name in found.items() if name is not None and word not in low}
