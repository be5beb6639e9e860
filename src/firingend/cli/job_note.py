"""``firingend job note``: everything that is written on a card by hand."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from firingend.cli.store_options import add_who, who
from firingend.errors import UserError

if TYPE_CHECKING:
    from firingend.jobs.job import Job
    from firingend.jobs.store import Store

STATUSES = ("open", "waiting", "fixed", "proved", "closed")
_HEADS = ("name", "customer", "mark", "complaint", "status", "fixed")


def add_note(actions: Any) -> None:  # noqa: ANN401 - argparse keeps the class private
    """Declare the action."""
    note = actions.add_parser("note", help="write something down: words, checks, measurements, work, parts, causes")
    note.add_argument("job", metavar="JOB", type=int, help="number of the job")
    note.add_argument("text", metavar="TEXT", nargs="?", help="free text")
    note.add_argument("--status", choices=STATUSES, help="the state it is in now")
    note.add_argument("--name", metavar="TEXT", help="what the job is called")
    note.add_argument("--customer", metavar="TEXT", help="customer reference, free text")
    note.add_argument("--mark", metavar="TEXT", help="what tells the engine from others of its kind")
    note.add_argument("--complaint", metavar="TEXT", help="in the customer's words")
    note.add_argument("--engine", metavar="NAME", help="what the engine is called, with --cylinders")
    note.add_argument("--cylinders", metavar="N", type=int, help="how many cylinders it has")
    note.add_argument("--present", metavar="SYMPTOM", action="append", default=[], help="a symptom it has")
    note.add_argument("--not-present", metavar="SYMPTOM", action="append", default=[], help="a symptom it has not")
    note.add_argument("--where", metavar="PLACE", default="engine", help="where, such as 'cylinder 3'")
    note.add_argument("--check", nargs=2, metavar=("CHECK", "OUTCOME"), help="a check that was done")
    note.add_argument("--tried", nargs=2, metavar=("CAUSE", "OUTCOME"), help="a repair: no-change, better or cured")
    note.add_argument("--measured", nargs=3, metavar=("WHAT", "VALUE", "UNIT"), help="a number that was taken")
    note.add_argument("--condition", metavar="TEXT", default="", help="of the measurement, such as 'spec 0.7 to 0.8'")
    note.add_argument("--plug", nargs=2, metavar=("CYLINDER", "LABEL"), help="what a plug showed, without photograph")
    note.add_argument("--stage", choices=("before", "after", "later"), default="before", help="of --plug")
    note.add_argument("--found", metavar="CAUSE", help="the cause that was found")
    note.add_argument("--ruled-out", metavar="CAUSE", help="a cause that was ruled out")
    note.add_argument("--fixed", metavar="TEXT", help="what was repaired")
    note.add_argument("--minutes", metavar="N", type=float, help="working time; TEXT says on what")
    note.add_argument("--part", metavar="NAME", help="a part used")
    note.add_argument("--count", metavar="N", type=int, default=1, help="how many of it")
    note.add_argument("--cost", metavar="AMOUNT", type=float, default=0.0, help="what they cost together")
    add_who(note)
    note.set_defaults(act=_note)


def _note(store: Store, args: argparse.Namespace) -> int:
    from firingend.jobs.card import new_key, to_json

    job = store.job(args.job)
    wanted: dict[str, Any] = {name: said for name in _HEADS if (said := getattr(args, name)) is not None}
    if args.engine or args.cylinders:
        wanted["engine"] = _engine(args)
    wanted |= _symptoms(args)
    for field, entry in _entries(job, args):
        wanted[f"{field}/{new_key()}"] = to_json(f"{field}/a", entry)
    if not wanted:
        raise UserError("there is nothing to write down", "give a text or one of the options")
    what = ", ".join(sorted({path.partition("/")[0].replace("_", " ") for path in wanted}))
    job = store.change(job, wanted, who(args), f"written down: {what}")
    print(f"written on job {job.number}")
    return 0


def _engine(args: argparse.Namespace) -> Any:  # noqa: ANN401
    from firingend.engine.build import build_engine
    from firingend.jobs.card import to_json

    if not args.cylinders:
        raise UserError("the engine needs a number of cylinders", "add --cylinders N")
    return to_json("engine", build_engine(args.cylinders, name=args.engine or "engine"))


def _symptoms(args: argparse.Namespace) -> dict[str, bool]:
    if not args.present and not args.not_present:
        return {}
    from firingend.diagnosis.knowledge import load

    knowledge = load()
    said = [*((name, True) for name in args.present), *((name, False) for name in args.not_present)]
    return {f"symptoms/{knowledge.symptom_id(name)}": there for name, there in said}


def _entries(job: Job, args: argparse.Namespace) -> list[tuple[str, object]]:
    """Field and value of everything that is added to a list on the card."""
    from firingend.jobs.card import Cause, Note, Part, TypedLabel, Work
    from firingend.jobs.currencies import minor

    found: list[tuple[str, object]] = []
    if args.minutes is not None:
        found.append(("work", Work(args.text or "work", args.minutes)))
    elif args.text:
        found.append(("notes", Note(args.text)))
    if args.part:
        found.append(("parts", Part(args.part, args.count, minor(args.cost, job.card.rates.currency))))
    if args.found:
        found.append(("found", Cause(args.found, args.where)))
    if args.ruled_out:
        found.append(("ruled_out", Cause(args.ruled_out, args.where)))
    if args.plug:
        found.append(("typed", TypedLabel(_cylinder(job, args.plug[0]), args.plug[1], stage=args.stage)))
    return found + [("outcomes", each) for each in _outcomes(args)] + [("measurements", each) for each in _taken(args)]


def _outcomes(args: argparse.Namespace) -> list[object]:
    from firingend.diagnosis.evidence import Outcome
    from firingend.diagnosis.knowledge import load
    from firingend.diagnosis.weighing import REPAIR

    found: list[object] = []
    if args.check:
        check = load().check_id(args.check[0])
        found.append(Outcome(check, args.where, load().outcome_id(check, args.check[1])))
    if args.tried:
        cause, outcome = load().cause_id(args.tried[0]), args.tried[1]
        if outcome not in ("no-change", "better", "cured"):
            raise UserError(f'a repair has no outcome "{outcome}"', "say no-change, better or cured")
        found.append(Outcome(f"{REPAIR}{cause}", args.where, outcome))
    return found


def _taken(args: argparse.Namespace) -> list[object]:
    if not args.measured:
        return []
    from firingend.bench.judge import judge
    from firingend.bench.measurement import Measurement

    what, value, unit = args.measured
    try:
        taken = Measurement(what, args.where, float(value), unit, args.condition)
    except ValueError as error:
        raise UserError(f'"{value}" is no number', "write it with a point, such as 0.75") from error
    judge((taken,))  # a kind or unit that is not known is told now, not when the job is worked on
    return [taken]


def _cylinder(job: Job, said: str) -> int:
    engine = job.card.engine
    number = int(said) if said.isascii() and said.isdigit() else -1
    if engine is None or number not in engine.cylinders:
        raise UserError(f'the engine of job {job.number} has no cylinder "{said}"', "correct the number")
    return number
