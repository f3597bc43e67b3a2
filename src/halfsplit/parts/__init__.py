"""The part families: one file each, gathered here in one list. A new family is one file and one line."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Protocol

from halfsplit.errors import UnknownName
from halfsplit.parts import (
    bridge,
    capacitor,
    choke,
    controller,
    diode,
    electrolytic,
    fet,
    flyback,
    fuse,
    heater,
    inductor,
    lamp,
    lead,
    load,
    mains,
    micro,
    motor,
    npn,
    ntc,
    opto,
    opto_triac,
    pnp,
    reference,
    regulator,
    relay,
    resistor,
    stat,
    switch,
    thermal_link,
    transformer,
    triac,
    varistor,
    zener,
)
from halfsplit.parts.base import Family

_ALL = (
    mains,
    lead,
    switch,
    fuse,
    thermal_link,
    stat,
    ntc,
    varistor,
    resistor,
    capacitor,
    electrolytic,
    inductor,
    choke,
    transformer,
    diode,
    bridge,
    zener,
    npn,
    pnp,
    fet,
    opto,
    opto_triac,
    triac,
    reference,
    regulator,
    controller,
    flyback,
    relay,
    heater,
    motor,
    lamp,
    load,
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
