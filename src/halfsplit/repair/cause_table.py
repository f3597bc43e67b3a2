"""Why it died: 29 rows of the trade's experience (common practice; the odds are bench estimates).

One row: the dead part, by family and by the places it sits in; what usually killed it; what to check before fitting;
how likely the new one dies soon if that is skipped. Order and numbers are those of the trade page, section 5.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Killing:
    """families: any of these (empty: any). places: words of its place, tags or words that single it out.
    ways: kinds or names of failing it is about (empty: any). again: odds of dying again, least and most where a range stands.
    generic: also meant where no place is said; not of the families in `placed`, which do many other things."""

    number: int
    dead: str
    families: tuple[str, ...]
    places: tuple[str, ...]
    ways: tuple[str, ...]
    killers: tuple[str, ...]
    checks: tuple[str, ...]
    again: tuple[float, float]
    generic: bool = True
    placed: tuple[str, ...] = ()


def _row(
    number: int,
    dead: str,
    families: str,
    places: str,
    ways: str,
    killers: str,
    checks: str,
    again: float,
    most: float | None = None,
    *,
    generic: bool = True,
    placed: str = "",
) -> Killing:
    def split(text: str) -> tuple[str, ...]:
        return tuple(word.strip() for word in text.split(";") if word.strip())

    return Killing(
        number,
        dead,
        split(families),
        split(places),
        split(ways),
        split(killers),
        split(checks),
        (again, again if most is None else most),
        generic,
        split(placed),
    )


TABLE: tuple[Killing, ...] = (
    _row(
        1,
        "mains fuse, black",
        "fuse",
        "black; mirrored; mains; fuse",
        "open",
        "shorted varistor; shorted bridge; shorted bulk capacitor; shorted X capacitor; shorted switch",
        "cold ohms of all five: varistor, X capacitor, bridge, bulk, switch",
        0.95,
    ),
    _row(
        2,
        "mains fuse, clean",
        "fuse",
        "clean; mains; fuse",
        "open",
        "age or inrush; NTC limiter low; relay that bypasses it",
        "load current; NTC limiter cold ohms",
        0.25,
    ),
    _row(
        3,
        "flyback switch",
        "fet; npn",
        "switch; chopper; flyback",
        "short",
        "clamp resistor, capacitor or diode open; sense resistor; bulk high or weak; shorted turns; slow output diode",
        "each of the clamp parts; sense resistor; bulk; ring test of the transformer; output diode; drive waveform on bench DC",
        0.7,
        placed="npn",
    ),
    _row(
        4,
        "controller",
        "controller",
        "controller; 3842",
        "",
        "drain-gate breakdown of the switch",
        "gate resistor; sense resistor; Vcc zener",
        0.8,
    ),
    _row(
        5,
        "source sense resistor",
        "resistor; wirewound",
        "sense; sense r; source",
        "open; up",
        "shorted switch",
        "switch; controller",
        1.0,
        generic=False,
    ),
    _row(
        6,
        "bridge diode",
        "bridge; diode",
        "bridge; mains; mains diode",
        "",
        "surge; shorted bulk; NTC limiter missing",
        "bulk ESR and short; varistor; NTC limiter",
        0.3,
        generic=False,
    ),
    _row(
        7,
        "bulk capacitor",
        "electrolytic",
        "bulk; bulk cap; main filter",
        "",
        "age and heat; over-volts of the PFC; balance resistor open",
        "rail at power-up; divider string",
        0.1,
        0.8,
        generic=False,
    ),
    _row(
        8,
        "output electrolytic",
        "electrolytic",
        "out; out cap; output; rail; rail cap; reservoir",
        "",
        "heat and ripple, with age",
        "rectifier heat-sinking; fan; load",
        0.1,
    ),
    _row(
        9,
        "Vcc capacitor",
        "electrolytic",
        "vcc; vcc cap; aux; start",
        "",
        "age beside a hot resistor",
        "move it or fit a 105 C type; rail ripple",
        0.1,
        generic=False,
    ),
    _row(
        10,
        "start-up resistor",
        "resistor; composition",
        "start; start up; start up r; kick start",
        "open; up",
        "voltage stress; age",
        "fit two in series with the right voltage rating",
        0.05,
        generic=False,
    ),
    _row(
        11,
        "output rectifier",
        "diode",
        "rectifier; output; schottky; secondary",
        "",
        "overload; ripple of a tired capacitor; over-temperature",
        "load ohms; ESR of the output capacitors; paste and sink",
        0.4,
        generic=False,
    ),
    _row(12, "opto", "opto", "", "", "age; heat; over-driven LED", "series resistor of the 431; how hot it sits", 0.05),
    _row(13, "varistor", "varistor", "", "", "surge or over-voltage of the line", "neutral fault on site; voltage selector", 0.3),
    _row(
        14,
        "thermal link",
        "thermal-link; stat",
        "",
        "open",
        "welded relay; shorted triac; blocked fan; slipped NTC",
        "the control device, cold",
        0.9,
    ),
    _row(
        15,
        "triac",
        "triac; scr",
        "",
        "",
        "shorted motor; lamp flash-over; no snubber; heat",
        "motor ohms at all angles; snubber",
        0.6,
    ),
    _row(
        16,
        "relay contact, welded",
        "relay; changeover",
        "",
        "welded; stuck-open; short",
        "inrush; under-voltage at the coil; missing snubber",
        "load surge; coil volts when on",
        0.5,
    ),
    _row(
        17,
        "relay driver transistor",
        "npn; pnp; fet; n-mosfet; p-mosfet",
        "driver; relay driver; relay",
        "",
        "flyback diode open or short",
        "diode; coil ohms",
        0.7,
        generic=False,
    ),
    _row(
        18,
        "audio output transistor",
        "npn; pnp; fet; n-mosfet; p-mosfet",
        "output; audio; power amp; upper; lower; upper driver; lower driver",
        "short",
        "bias spreader or trimmer; driver; speaker short; ventilation",
        "spreader with outputs out; load",
        0.8,
        1.0,
        generic=False,
    ),
    _row(
        19,
        "audio emitter resistor",
        "resistor; wirewound; fusible",
        "emitter; emitter r; ballast",
        "open; up",
        "output short",
        "all in that rail",
        1.0,
        generic=False,
    ),
    _row(
        20,
        "class-D switch",
        "fet",
        "class d; high side; low side; half bridge",
        "short",
        "boot supply or driver; dead-time; coil",
        "driver on low-volt rails",
        0.7,
        generic=False,
    ),
    _row(
        21,
        "X2 dropper",
        "capacitor; x-cap",
        "dropper; dropper c; x2",
        "",
        "self-healing erosion; humidity; spikes",
        "bleed resistor; varistor",
        0.05,
        generic=False,
    ),
    _row(
        22,
        "regulator",
        "regulator; ldo; adjustable",
        "",
        "",
        "reverse or over-voltage; load short; input ripple",
        "load ohms; input; protection diode",
        0.5,
    ),
    _row(
        23,
        "LED in a string",
        "led; diode",
        "led; string",
        "",
        "heat; over-current",
        "driver current; bonding to the plate",
        0.5,
        generic=False,
    ),
    _row(
        24,
        "PFC divider resistor",
        "resistor; composition",
        "pfc; pfc divider; divider string",
        "open; up",
        "DC stress on a small chip resistor",
        "replace the whole string",
        0.1,
        0.5,
        generic=False,
    ),
    _row(
        25,
        "ceramic, shorted",
        "capacitor; ceramic",
        "mlcc; ceramic; decoupling; bypass",
        "short; leaky",
        "board flex",
        "stand-offs; position",
        0.2,
        generic=False,
    ),
    _row(
        26,
        "pass transistor of a bench supply",
        "npn; pnp; fet; n-mosfet; p-mosfet",
        "pass; pass transistor",
        "",
        "battery back-feed; ballast resistor; fan",
        "reverse diode; ballast; drive",
        0.5,
        generic=False,
    ),
    _row(
        27,
        "charger output switch or fuse",
        "fet; fuse; n-mosfet; p-mosfet",
        "charger; battery; charger output",
        "",
        "reversed battery",
        "reverse circuit; battery state",
        0.3,
        generic=False,
    ),
    _row(
        28,
        "fan or pump motor",
        "motor",
        "fan; pump; motor",
        "",
        "bearing; dust",
        "free turning; stall current against the driver",
        0.1,
    ),
    _row(
        29,
        "burnt connector",
        "connector",
        "connector; plug; terminal",
        "",
        "high-resistance crimp",
        "replace both halves",
        0.9,
    ),
)

# Who dies of age and heat by itself, and who is killed by another (common practice). Place words win over the family.
ALONE_PLACES = ("dropper", "start up", "start", "start r", "divider", "bleed", "joint", "fan", "belt", "battery", "paste")
KILLED_PLACES = ("fusible", "sense", "gate", "emitter", "track", "base stopper")
