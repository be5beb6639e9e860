"""A valid engine from the few facts a technician writes down."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from string import ascii_uppercase
from typing import Literal, get_args

from firingend.engine.engine import Bank, Engine, FuelSystem, Ignition, Layout, SharedKind, SharedPart
from firingend.errors import UserError

MOST_CYLINDERS = 16

# Companion cylinders of in-line engines whose crankshaft is the same seen from either end: they reach the top
# together, whatever the firing order. Common practice, no source.
_MIRRORED_PAIRS: Mapping[int, tuple[tuple[int, int], ...]] = {
    2: ((0, 1),),
    4: ((0, 3), (1, 2)),
    6: ((0, 5), (1, 4), (2, 3)),
}

_KIND_WORDS: Mapping[SharedKind, str] = {
    "coil": "coil",
    "carburettor": "carburettor",
    "throttle-body": "throttle body",
    "fuel-rail": "fuel rail",
    "head": "cylinder head",
}


def build_engine(
    cylinders: int | Sequence[int],
    *,
    name: str = "engine",
    layout: Layout | None = None,
    strokes: Literal[2, 4] = 4,
    fuel_system: FuelSystem = "port-injection",
    ignition: Ignition = "coil-per-plug",
    firing_order: Sequence[int] = (),
    banks: Mapping[str, Sequence[int]] | None = None,
    shared: Sequence[SharedPart] = (),
    one_each: Collection[SharedKind] = (),
    aircraft: bool = False,
) -> Engine:
    """Make an engine, filling in what the trade takes for granted.

    Parameters
    ----------
    cylinders
        How many cylinders (numbered from 1), or their numbers in physical order.
    name
        What the technician calls it.
    layout
        ``single`` for one cylinder and ``inline`` for more when not given.
    strokes, fuel_system, ignition
        As in :class:`~firingend.engine.engine.Engine`.
    firing_order
        Every cylinder once; may be left out, except where wasted-spark coils have to be derived from it.
    banks
        Name to cylinders in physical order, two banks for vee and flat engines. By default odd numbers make
        ``bank 1`` and even ones ``bank 2`` (common practice, no source: makers differ, so state them).
    shared
        Shared parts as they really are. Stating one part of a kind replaces every default of that kind.
    one_each
        Kinds of part every cylinder has to itself ("carburettor" for four carburettors on four cylinders).
    aircraft
        True for an aircraft engine.

    Returns
    -------
    Engine
        With the defaults: a coil per plug; wasted-spark coils on cylinders half a firing order apart; one coil
        or magneto for all with a distributor or magneto; one throttle body or carburettor for all; one fuel
        rail and one head per bank.

    Raises
    ------
    UserError
        Facts that contradict each other, with what to change.

    Examples
    --------
    >>> four = build_engine(4, ignition="wasted-spark", firing_order=(1, 3, 4, 2))
    >>> [(part.name, part.cylinders) for part in four.shared if part.kind == "coil"]
    [('coil A', (1, 4)), ('coil B', (2, 3))]
    """
    numbers = _cylinder_numbers(cylinders)
    layout = layout or ("single" if len(numbers) == 1 else "inline")
    _one_of("layout", layout, get_args(Layout))
    _one_of("fuel_system", fuel_system, get_args(FuelSystem))
    _one_of("ignition", ignition, get_args(Ignition))
    if strokes not in (2, 4):
        raise UserError(f"strokes is {strokes}", "write 2 or 4")
    _check_layout(layout, numbers)
    order = _firing_order(firing_order, numbers)
    rows = _banks(banks, layout, numbers)
    stated = tuple(shared)
    _check_shared(stated, numbers, fuel_system)
    left_out = {part.kind for part in stated} | set(one_each)
    parts = stated
    if len(numbers) > 1:
        if "coil" not in left_out:
            parts += _default_coils(ignition, numbers, order, layout)
        parts += tuple(p for p in _default_plumbing(fuel_system, numbers, rows) if p.kind not in left_out)
    return Engine(name, numbers, layout, strokes, fuel_system, ignition, order, rows, parts, aircraft)


def list_cylinders(cylinders: Iterable[int]) -> str:
    """Cylinder numbers as one says them.

    Examples
    --------
    >>> list_cylinders((1,)), list_cylinders((1, 4)), list_cylinders((1, 2, 3))
    ('1', '1 and 4', '1, 2 and 3')
    """
    words = [str(cylinder) for cylinder in cylinders]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _cylinder_numbers(cylinders: int | Sequence[int]) -> tuple[int, ...]:
    if isinstance(cylinders, int):
        if not 1 <= cylinders <= MOST_CYLINDERS:
            raise UserError(f"cylinders is {cylinders}", f"give a number from 1 to {MOST_CYLINDERS}")
        return tuple(range(1, cylinders + 1))
    numbers = tuple(cylinders)
    if not 1 <= len(numbers) <= MOST_CYLINDERS:
        raise UserError(f"cylinders lists {len(numbers)} numbers", f"list 1 to {MOST_CYLINDERS} of them")
    if min(numbers) < 1:
        raise UserError(f"cylinders has the number {min(numbers)}", "number cylinders from 1")
    if twice := _repeated(numbers):
        raise UserError(f"cylinders lists {list_cylinders(twice)} more than once", "list each cylinder once")
    return numbers


def _repeated(numbers: Sequence[int]) -> tuple[int, ...]:
    return tuple(sorted({number for number in numbers if numbers.count(number) > 1}))


def _one_of(key: str, value: str, allowed: Sequence[str]) -> None:
    if value not in allowed:
        raise UserError(f'{key} is "{value}"', f"write one of {', '.join(allowed)}")


def _check_layout(layout: Layout, numbers: tuple[int, ...]) -> None:
    if layout == "single" and len(numbers) > 1:
        raise UserError(f'layout is "single" but there are {len(numbers)} cylinders', "write inline, vee or flat")
    if layout != "single" and len(numbers) == 1:
        raise UserError(f'layout is "{layout}" but there is one cylinder', "write single, or list every cylinder")


def _firing_order(order: Sequence[int], numbers: tuple[int, ...]) -> tuple[int, ...]:
    order = tuple(order)
    if order and sorted(order) != sorted(numbers):
        raise UserError(
            f"firing_order {list(order)} does not name every cylinder once",
            f"use each of {list_cylinders(numbers)} once, or leave firing_order out",
        )
    return order


def _banks(banks: Mapping[str, Sequence[int]] | None, layout: Layout, numbers: tuple[int, ...]) -> tuple[Bank, ...]:
    wanted = 2 if layout in ("vee", "flat") else 1
    if not banks:
        if wanted == 1:
            return (Bank("", numbers),)
        odd = tuple(number for number in numbers if number % 2)
        even = tuple(number for number in numbers if not number % 2)
        if not odd or not even:
            raise UserError(
                f"the banks of this {layout} engine cannot be told from its numbers", "state both under banks"
            )
        return tuple(Bank(f"bank {i}", row) for i, row in enumerate(sorted((odd, even), key=min), start=1))
    if len(banks) != wanted:
        raise UserError(
            f"{len(banks)} banks are stated but a {layout} engine has {wanted}", f"state {wanted} or change layout"
        )
    named = [cylinder for row in banks.values() for cylinder in row]
    if sorted(named) != sorted(numbers):
        raise UserError(
            f"the banks hold {named} but the cylinders are {list(numbers)}", "put every cylinder in one bank"
        )
    for bank, row in banks.items():
        if not row:
            raise UserError(f'bank "{bank}" has no cylinders', "put every cylinder in one of two banks")
    return tuple(Bank(bank, tuple(row)) for bank, row in banks.items())


def _check_shared(parts: tuple[SharedPart, ...], numbers: tuple[int, ...], fuel_system: FuelSystem) -> None:
    names: set[str] = set()
    home: dict[tuple[SharedKind, int], str] = {}
    for part in parts:
        _one_of(f'kind of "{part.name}"', part.kind, get_args(SharedKind))
        if part.name in names:
            raise UserError(f'two shared parts are called "{part.name}"', "give each part a name of its own")
        names.add(part.name)
        _check_members(part, numbers)
        _check_fits_fuel_system(part, fuel_system)
        for cylinder in part.cylinders:
            if other := home.get((part.kind, cylinder)):
                raise UserError(
                    f'cylinder {cylinder} is on both "{other}" and "{part.name}"',
                    f"put it on one {_KIND_WORDS[part.kind]}",
                )
            home[part.kind, cylinder] = part.name


def _check_members(part: SharedPart, numbers: tuple[int, ...]) -> None:
    if strangers := tuple(c for c in part.cylinders if c not in numbers):
        raise UserError(
            f'"{part.name}" is shared by cylinder {list_cylinders(strangers)}, which this engine does not have',
            f"use only {list_cylinders(numbers)}",
        )
    if twice := _repeated(part.cylinders):
        raise UserError(f'"{part.name}" lists cylinder {list_cylinders(twice)} twice', "list each cylinder once")
    if len(part.cylinders) < 2:
        raise UserError(
            f'"{part.name}" serves fewer than two cylinders',
            "leave it out: only parts that cylinders share are listed",
        )


def _check_fits_fuel_system(part: SharedPart, fuel_system: FuelSystem) -> None:
    carburetted = fuel_system == "carburettor"
    misfit = part.kind in ("throttle-body", "fuel-rail") if carburetted else part.kind == "carburettor"
    if misfit:
        raise UserError(
            f'"{part.name}" is a {_KIND_WORDS[part.kind]} but fuel_system is "{fuel_system}"',
            "change fuel_system or the part's kind",
        )


def _default_coils(
    ignition: Ignition, numbers: tuple[int, ...], order: tuple[int, ...], layout: Layout
) -> tuple[SharedPart, ...]:
    if ignition == "coil-per-plug":
        return ()
    if ignition == "wasted-spark":
        pairs = _wasted_spark_pairs(numbers, order, layout)
        return tuple(
            SharedPart("coil", f"coil {letter}", pair)
            for letter, pair in zip(ascii_uppercase, sorted(pairs), strict=False)
        )
    return (SharedPart("coil", "magneto" if ignition == "magneto" else "ignition coil", numbers),)


def _wasted_spark_pairs(numbers: tuple[int, ...], order: tuple[int, ...], layout: Layout) -> list[tuple[int, int]]:
    if len(numbers) % 2:
        raise UserError(
            f"wasted-spark coils fire two plugs each, but there are {len(numbers)} cylinders",
            "write coil-per-plug, or state the coils under shared",
        )
    if order:
        half = len(order) // 2
        return [(min(a, b), max(a, b)) for a, b in zip(order[:half], order[half:], strict=True)]
    if (layout == "inline" and len(numbers) in _MIRRORED_PAIRS) or len(numbers) == 2:
        pairs = ((numbers[i], numbers[j]) for i, j in _MIRRORED_PAIRS[len(numbers)])
        return [(min(pair), max(pair)) for pair in pairs]
    raise UserError(
        "which cylinders share a wasted-spark coil cannot be told without the firing order",
        "state firing_order, or the coils under shared",
    )


def _default_plumbing(
    fuel_system: FuelSystem, numbers: tuple[int, ...], rows: tuple[Bank, ...]
) -> tuple[SharedPart, ...]:
    parts: list[SharedPart] = []
    if fuel_system == "carburettor":
        parts.append(SharedPart("carburettor", "carburettor", numbers))
    else:
        parts.append(SharedPart("throttle-body", "throttle body", numbers))
        parts += _one_per_bank("fuel-rail", rows)
    return (*parts, *_one_per_bank("head", rows))


def _one_per_bank(kind: SharedKind, rows: tuple[Bank, ...]) -> list[SharedPart]:
    word = _KIND_WORDS[kind]
    return [
        SharedPart(kind, f"{word} of {bank.name}" if bank.name else word, bank.cylinders)
        for bank in rows
        if len(bank.cylinders) > 1
    ]
