"""Where on an engine a cause can sit or a check can be done."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal, get_args

from firingend.engine.engine import Engine
from firingend.errors import UserError

Scope = Literal["engine", "bank", "coil", "carburettor", "throttle-body", "fuel-rail", "cylinder", "neighbours", "ends"]
SCOPES: Final[tuple[str, ...]] = get_args(Scope)

_EVERYWHERE: Final = frozenset(
    {"", "engine", "all", "everywhere", "all cylinders", "all coils", "both banks", "all carburettors"}
)


@dataclass(frozen=True, slots=True)
class Place:
    """One place on one engine: its scope, what a technician calls it, the cylinders it reaches."""

    scope: str
    name: str
    cylinders: tuple[int, ...]


def places(engine: Engine, scope: str) -> tuple[Place, ...]:
    """Every place of one scope on this engine.

    A part that cylinders may share exists once for each shared part listed in the engine, and once for each
    cylinder that no listed part covers; what is hardly ever one a cylinder (throttle body, rail) exists once
    for the whole engine when none is listed.

    Examples
    --------
    >>> from firingend.engine.engine import Bank, SharedPart
    >>> twin = Engine("twin", (1, 2), "inline", 4, "carburettor", "wasted-spark", (1, 2), (Bank("", (1, 2)),),
    ...               (SharedPart("coil", "coil A", (1, 2)),))
    >>> [place.name for place in places(twin, "coil") + places(twin, "carburettor")]
    ['coil A (1 and 2)', 'carburettor of cylinder 1', 'carburettor of cylinder 2']
    """
    whole = (Place(scope, "engine", engine.cylinders),)
    if scope == "engine":
        return whole
    if scope == "cylinder":
        return tuple(Place(scope, f"cylinder {n}", (n,)) for n in engine.cylinders)
    if scope == "bank":
        if len(engine.banks) < 2:
            return whole
        return tuple(Place(scope, _bank_name(bank.name), bank.cylinders) for bank in engine.banks)
    if scope == "neighbours":
        return tuple(Place(scope, f"cylinders {a} and {b}", (a, b)) for a, b in engine.neighbours())
    if scope == "ends":
        ends = tuple(n for b in engine.banks if len(b.cylinders) > 2 for n in (b.cylinders[0], b.cylinders[-1]))
        return (Place(scope, "end cylinders", ends),) if ends else ()
    return _shared_places(engine, scope)


def _shared_places(engine: Engine, scope: str) -> tuple[Place, ...]:
    listed = [part for part in engine.shared if part.kind == scope]
    found = [Place(scope, f"{part.name} ({_numbers(part.cylinders)})", part.cylinders) for part in listed]
    covered = {n for part in listed for n in part.cylinders}
    single = engine.ignition in ("distributor", "magneto") if scope == "coil" else scope != "carburettor"
    if not listed and single:
        return (Place(scope, "engine", engine.cylinders),)
    if not listed and scope == "coil" and engine.ignition == "wasted-spark":
        return _paired_by_firing_order(engine)
    found += [Place(scope, f"{scope} of cylinder {n}", (n,)) for n in engine.cylinders if n not in covered]
    return tuple(found)


def _paired_by_firing_order(engine: Engine) -> tuple[Place, ...]:
    """Wasted-spark coils fire cylinders half a cycle apart, so the firing order gives the pairs."""
    order = engine.firing_order or engine.cylinders
    half = len(order) // 2
    if len(order) % 2 or half == 0:
        return (Place("coil", "engine", engine.cylinders),)
    pairs = [tuple(sorted((order[k], order[k + half]))) for k in range(half)]
    return tuple(Place("coil", f"coil of cylinders {_numbers(pair)}", pair) for pair in sorted(pairs))


def _bank_name(name: str) -> str:
    return name if "bank" in name.lower() else f"{name} bank"


def _numbers(cylinders: tuple[int, ...]) -> str:
    words = [str(n) for n in cylinders]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def find_places(engine: Engine, scope: str, where: str) -> tuple[Place, ...]:
    """The places of one scope that a technician's words mean.

    ``engine`` and ``all`` mean every place; a number or a list of numbers means the places that reach those
    cylinders; anything else must be the name of a place, with or without the cylinders in brackets.

    Raises
    ------
    UserError
        Nothing on this engine is called so; the remedy lists what is.
    """
    known = places(engine, scope)
    said = " ".join(where.lower().replace("_", " ").replace("-", " ").split())
    if said in _EVERYWHERE:
        return known
    named = [p for p in known if said in _names(p)]
    if named:
        return tuple(named)
    numbers = {int(n) for n in re.findall(r"\d+", said)}
    if numbers and numbers <= set(engine.cylinders):
        same = [p for p in known if set(p.cylinders) == numbers]
        touched = [p for p in known if numbers & set(p.cylinders)]
        if same or touched:
            return tuple(same or touched)
    named = [p for p in _all_places(engine) if said in _names(p)]
    touched = [p for p in known if any(set(p.cylinders) & set(q.cylinders) for q in named)]
    if touched:
        return tuple(touched)
    raise UserError(
        f'nothing on this engine is called "{where}"',
        "say one of: " + ", ".join(dict.fromkeys(["engine", *(p.name for p in known)])),
    )


def _names(place: Place) -> tuple[str, str, str]:
    name = _plain(place.name)
    return name, name.split(" (")[0], name.removesuffix(" bank")


def _plain(name: str) -> str:
    return " ".join(name.lower().replace("-", " ").split())


def _all_places(engine: Engine) -> list[Place]:
    return [place for scope in SCOPES for place in places(engine, scope)]
