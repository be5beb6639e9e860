"""Cylinders, their order and layout, and the parts they share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Layout = Literal["single", "inline", "vee", "flat"]
FuelSystem = Literal["carburettor", "port-injection", "direct-injection"]
Ignition = Literal["coil-per-plug", "wasted-spark", "distributor", "magneto"]
SharedKind = Literal["coil", "carburettor", "throttle-body", "fuel-rail", "head"]


@dataclass(frozen=True, slots=True)
class SharedPart:
    """One part that several cylinders have in common.

    ``name`` is what the technician calls it ("coil A", "left carburettor"); ``cylinders`` are cylinder numbers.
    """

    kind: SharedKind
    name: str
    cylinders: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Bank:
    """A row of cylinders, in physical order along the crankshaft."""

    name: str
    cylinders: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Engine:
    """One engine.

    Attributes
    ----------
    name
        What the technician calls it; free text.
    cylinders
        Cylinder numbers in physical order.
    layout, strokes, fuel_system, ignition
        As the literal types say; ``strokes`` is 2 or 4.
    firing_order
        A permutation of ``cylinders``; empty when not known.
    banks
        One bank for single and inline engines, two for vee and flat ones.
    shared
        Every part that two or more cylinders share, coils included.
    aircraft
        True for an aircraft engine, which this project refuses to troubleshoot.
    """

    name: str
    cylinders: tuple[int, ...]
    layout: Layout
    strokes: Literal[2, 4]
    fuel_system: FuelSystem
    ignition: Ignition
    firing_order: tuple[int, ...]
    banks: tuple[Bank, ...]
    shared: tuple[SharedPart, ...]
    aircraft: bool = False

    def neighbours(self) -> tuple[tuple[int, int], ...]:
        """Pairs of cylinders that lie side by side in one bank.

        Examples
        --------
        >>> bank = Bank("", (1, 2, 3))
        >>> Engine("triple", (1, 2, 3), "inline", 4, "port-injection", "coil-per-plug", (1, 3, 2),
        ...        (bank,), ()).neighbours()
        ((1, 2), (2, 3))
        """
        return tuple((a, b) for bank in self.banks for a, b in zip(bank.cylinders, bank.cylinders[1:], strict=False))
