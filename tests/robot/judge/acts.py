"""What hands do to a board: legs up, parts out and back. Shared by the board and by the one that remembers its answers."""

from __future__ import annotations

from halfsplit.circuit.model import Circuit


class OffTheBoard:
    """circuit: as the board was made. lifted: legs up as (ref, pin). removed: parts out."""

    circuit: Circuit

    def __init__(self) -> None:
        self.lifted: set[tuple[str, str]] = set()
        self.removed: set[str] = set()

    def lift(self, ref: str, pin: str) -> None:
        """One leg up."""
        self._pin(ref, pin)
        self.lifted.add((self.circuit.part(ref).ref, pin))

    def remove(self, ref: str) -> None:
        """The part out of the board."""
        self.removed.add(self.circuit.part(ref).ref)

    def refit(self, ref: str) -> None:
        """The part, and all its legs, back in place."""
        name = self.circuit.part(ref).ref
        self.removed.discard(name)
        self.lifted = {(r, p) for r, p in self.lifted if r != name}

    def _pin(self, ref: str, pin: str) -> None:
        part = self.circuit.part(ref)
        if pin not in part.pins:
            raise ValueError(f"{part.ref} has no pin {pin!r}; its pins: {', '.join(part.pins)}")
