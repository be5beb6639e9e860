"""``firingend knowledge``: check a shop's edits; show what is known about a cause, check or symptom."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from firingend.cli.commands import Commands
    from firingend.diagnosis.knowledge import Knowledge


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "knowledge",
        help="check a shop's own knowledge file, or show a cause, check or symptom",
        description="What the troubleshooter knows: causes, checks, symptoms (docs/knowledge.md).",
    )
    what = parser.add_subparsers(title="what", metavar="WHAT", required=True)
    check = what.add_parser("check", help="validate knowledge files laid over the shipped ones")
    check.add_argument("files", metavar="FILE.toml", type=Path, nargs="+", help="a shop's own knowledge")
    check.set_defaults(show=_check)
    show = what.add_parser("show", help="show entries by id or by other words; list everything when none is given")
    show.add_argument("names", metavar="CAUSE|CHECK|SYMPTOM", nargs="*", help="what to show")
    show.set_defaults(show=_show)
    return parser


def run(args: argparse.Namespace) -> int:
    """Check or show."""
    for line in args.show(args):
        print(line)
    return 0


def _check(args: argparse.Namespace) -> Iterator[str]:
    from firingend.diagnosis.knowledge import load

    shipped, shop = load(), load(args.files)
    for kind in ("causes", "checks", "symptoms", "profiles", "openings", "cautions", "shifts"):
        before, after = getattr(shipped, kind), getattr(shop, kind)
        added = [key for key in after if key not in before]
        changed = [key for key in after if key in before and after[key] != before[key]]
        if added:
            yield f"{kind} added: {', '.join(added)}"
        if changed:
            yield f"{kind} changed: {', '.join(changed)}"
    if shipped.general != shop.general:
        yield "general numbers changed"
    yield f"in order: {len(shop.causes)} causes, {len(shop.checks)} checks, {len(shop.symptoms)} symptoms"


def _show(args: argparse.Namespace) -> Iterator[str]:
    from firingend.diagnosis.knowledge import load

    knowledge = load()
    if not args.names:
        yield from _listing(knowledge)
    for name in args.names:
        yield from _entry(knowledge, name)


def _listing(knowledge: Knowledge) -> Iterator[str]:
    for title, entries in (
        ("CAUSES", knowledge.causes),
        ("CHECKS", knowledge.checks),
        ("SYMPTOMS", knowledge.symptoms),
    ):
        yield f"{title} ({len(entries)})"
        for key, entry in entries.items():
            yield f"  {key}: {entry.name}"
            if key in knowledge.checks and title == "CHECKS":
                yield "      outcomes: " + ", ".join(knowledge.checks[key].outcomes)
    from firingend.bench.kinds import KINDS

    yield f"MEASUREMENTS ({len(KINDS)})"
    for kind in KINDS.values():
        yield f"  {kind.id}: {kind.quantity}, settles {kind.check}"


def _entry(knowledge: Knowledge, said: str) -> Iterator[str]:
    from firingend.errors import KnowledgeError

    for find, show in (
        (knowledge.cause_id, _cause),
        (knowledge.check_id, _check_entry),
        (knowledge.symptom_id, _symptom),
    ):
        try:
            key = find(said)
        except KnowledgeError:
            continue
        yield from show(knowledge, key)
        return
    raise KnowledgeError(f'no cause, check or symptom is called "{said}"', "see the list: firingend knowledge show")


def _cause(knowledge: Knowledge, key: str) -> Iterator[str]:
    cause = knowledge.causes[key]
    yield f"cause {key}: {cause.name}"
    yield f"  where: {cause.scope}; weight {cause.weight:g}"
    if cause.also:
        yield f"  also called: {', '.join(cause.also)}"
    profile = knowledge.profiles[cause.plug]
    labels = ", ".join(f"{label} {chance:.0%}" for label, chance in profile.labels.items())
    yield f"  plugs ({cause.plug}): {labels}"
    signs = {**profile.signs, **cause.signs}
    if signs:
        yield "  signs: " + ", ".join(f"{sign} {chance:.0%}" for sign, chance in signs.items())
    if cause.symptoms:
        ranked = sorted(cause.symptoms.items(), key=lambda item: -item[1])
        yield "  symptoms: " + ", ".join(f"{symptom} {chance:.0%}" for symptom, chance in ranked)
    yield f"  repair: {cause.repair} ({cause.minutes:g} min, parts {cause.parts:g})"
    yield from _opens(knowledge, cause.opens)
    yield f"  confirmed by: {', '.join(cause.confirmed_by)}"
    yield from (f"  caution: {knowledge.cautions[name].text}" for name in cause.cautions)
    yield f"  source: {cause.source}"


def _check_entry(knowledge: Knowledge, key: str) -> Iterator[str]:
    check = knowledge.checks[key]
    yield f"check {key}: {check.name}"
    yield f"  where: {check.where}; {check.minutes:g} min, parts {check.parts:g}"
    if check.tools:
        yield f"  tools: {', '.join(check.tools)}"
    yield from _opens(knowledge, check.opens)
    yield from (f"  {k}. {line}" for k, line in enumerate(check.how, 1))
    yield "  outcomes:"
    for outcome, text in check.outcomes.items():
        yield f"    {outcome}: {text}"
    width = max(len(name) for name in ["otherwise", *check.given, *check.given_profile])
    for name, row in [
        *check.given.items(),
        *((f"profile {name}", row) for name, row in check.given_profile.items()),
        ("otherwise", check.otherwise),
    ]:
        chances = "  ".join(f"{outcome} {chance:.0%}" for outcome, chance in zip(check.outcomes, row, strict=True))
        yield f"    {name:{width}}  {chances}"
    yield from (f"  caution: {knowledge.cautions[name].text}" for name in check.cautions)
    yield f"  source: {check.source}"


def _symptom(knowledge: Knowledge, key: str) -> Iterator[str]:
    symptom = knowledge.symptoms[key]
    yield f"symptom {key}: {symptom.name}"
    yield f"  without a listed fault: {symptom.leak:.0%}"
    if symptom.also:
        yield f"  also called: {', '.join(symptom.also)}"
    raised = {c.id: c.symptoms[key] for c in knowledge.causes.values() if key in c.symptoms}
    for cause, chance in sorted(raised.items(), key=lambda item: -item[1]):
        yield f"  {chance:4.0%}  {cause}"
    yield f"  source: {symptom.source}"


def _opens(knowledge: Knowledge, names: tuple[str, ...]) -> Iterator[str]:
    for name in names:
        opening = knowledge.openings[name]
        yield f"  needs first: {opening.name} ({opening.minutes:g} min)"
