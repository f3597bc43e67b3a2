"""The part families: one file each, gathered here in one list. A new family is one file and one line."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Protocol

from halfsplit.errors import UnknownName
from halfsplit.parts import (
    adapter,
    adjustable,
    battery,
    bench_supply,
    bridge,
    buck_module,
    capacitor,
    ceramic,
    changeover,
    choke,
    comparator,
    composition,
    connector,
    controller,
    cut_off_resistor,
    diode,
    electrolytic,
    fet,
    flyback,
    fuse,
    fusible,
    heater,
    inductor,
    joint,
    lamp,
    ldo,
    lead,
    led,
    load,
    mains,
    micro,
    motor,
    n_mosfet,
    npn,
    ntc,
    op_amp,
    opto,
    opto_triac,
    oscillator,
    p_mosfet,
    plain_flyback,
    pnp,
    power_load,
    ptc,
    reference,
    regulator,
    relay,
    resistive_load,
    resistor,
    scr,
    stat,
    switch,
    switcher,
    tantalum,
    thermal_link,
    transformer,
    triac,
    tvs,
    varistor,
    wirewound,
    x_cap,
    y_cap,
    zener,
)
from halfsplit.parts.base import Family

_ALL = (
    mains,
    lead,
    connector,
    joint,
    switch,
    fuse,
    fusible,
    ptc,
    thermal_link,
    stat,
    ntc,
    varistor,
    tvs,
    resistor,
    wirewound,
    composition,
    cut_off_resistor,
    capacitor,
    ceramic,
    x_cap,
    y_cap,
    electrolytic,
    tantalum,
    inductor,
    choke,
    transformer,
    diode,
    bridge,
    zener,
    led,
    npn,
    pnp,
    n_mosfet,
    p_mosfet,
    plain_flyback,
    fet,
    switcher,
    oscillator,
    opto,
    opto_triac,
    triac,
    scr,
    reference,
    regulator,
    ldo,
    adjustable,
    buck_module,
    op_amp,
    comparator,
    controller,
    flyback,
    relay,
    changeover,
    heater,
    motor,
    lamp,
    load,
    resistive_load,
    power_load,
    battery,
    bench_supply,
    adapter,
    micro,
)
FAMILIES: Mapping[str, Family] = MappingProxyType({m.FAMILY.name: m.FAMILY for m in _ALL})


class HasFamily(Protocol):
    """Anything that names its family, such as a Part."""

    @property
    def family(self) -> str: ...


def family_of(part: HasFamily) -> Family:
    """The family of a part. Raises UnknownName with the nearest names."""
    try:
        return FAMILIES[part.family]
    except KeyError:
        raise UnknownName("part family", part.family, FAMILIES) from None
