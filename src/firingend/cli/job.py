"""``firingend job``: what a shop keeps of every engine."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from firingend.cli.job_note import STATUSES, add_note
from firingend.cli.report import add_reader_and_paper
from firingend.cli.store_options import add_store_options, add_who, open_store, who
from firingend.errors import PhotoError, UserError

if TYPE_CHECKING:
    from firingend.cli.commands import Commands
    from firingend.jobs.card import Stage
    from firingend.jobs.job import Job
    from firingend.jobs.store import Store

STAGES = ("before", "after", "later")
EXPORTS = (".zip", ".csv", ".json", ".html", ".pdf")


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "job",
        help="keep jobs: cards, photographs, notes, history",
        description="Keeps a card for every engine in the shop (docs/jobs.md).",
    )
    actions = parser.add_subparsers(title="actions", metavar="ACTION", required=True, dest="action")
    for add in (_add_new, _add_list, _add_show, _add_photo, add_note, _add_close, _add_undo, _add_over_time):
        add(actions)
    for add in (_add_export, _add_import, _add_watch):
        add(actions)
    for action in actions.choices.values():
        add_store_options(action)
    return parser


def run(args: argparse.Namespace) -> int:
    """Do one thing with jobs."""
    act: Any = args.act
    with open_store(args) as store:
        code: int = act(store, args)
    return code


def _add_new(actions: Any) -> None:  # noqa: ANN401 - argparse keeps the class private
    new = actions.add_parser("new", help="open a job")
    new.add_argument("--case", metavar="CASE.toml", type=Path, help="take everything from a case file")
    new.add_argument("--engine", metavar="NAME", help="what the engine is called")
    new.add_argument("--cylinders", metavar="N", type=int, help="how many cylinders it has")
    new.add_argument("--mark", metavar="TEXT", help="what tells it from others of its kind, such as a number")
    new.add_argument("--name", metavar="TEXT", help="what the job is called")
    new.add_argument("--customer", metavar="TEXT", help="customer reference, free text")
    new.add_argument("--complaint", metavar="TEXT", help="in the customer's words")
    new.add_argument("--no-read", action="store_true", help="keep the photographs of the case without reading them")
    add_who(new)
    new.set_defaults(act=_new)


def _new(store: Store, args: argparse.Namespace) -> int:
    fields: dict[str, Any] = {}
    case = None
    if args.case is not None:
        from firingend.cases.load import load_case
        from firingend.jobs.as_case import fields_of

        case = load_case(args.case)
        fields = fields_of(case)
    elif args.engine or args.cylinders:
        from firingend.engine.build import build_engine
        from firingend.jobs.card import to_json

        if not args.cylinders:
            raise UserError("the engine needs a number of cylinders", "add --cylinders N")
        engine = build_engine(args.cylinders, name=args.engine or "engine")
        fields = {"name": engine.name, "engine": to_json("engine", engine)}
    said = {"name": args.name, "customer": args.customer, "complaint": args.complaint, "mark": args.mark}
    fields.update({key: value for key, value in said.items() if value is not None})
    job = store.new_job(fields, who(args))
    for photo in case.photos if case else ():
        job = _keep_photo(store, job, photo.file, photo.cylinders, photo.across, "before", args)
    print(f"opened job {job.number}")
    return 0


def _add_list(actions: Any) -> None:  # noqa: ANN401
    listing = actions.add_parser("list", help="list and search jobs, newest first")
    listing.add_argument("words", metavar="WORD", nargs="*", help="beginnings of words anywhere on the card")
    for name in ("engine", "mark", "customer", "label", "cause"):
        listing.add_argument(f"--{name}", metavar="TEXT", default="", help=f"jobs with just this {name}")
    listing.add_argument("--status", choices=STATUSES, help="jobs in this state")
    listing.add_argument("--since", metavar="DATE", type=_date, help="opened on this day or later, such as 2026-05-04")
    listing.add_argument("--until", metavar="DATE", type=_date, help="opened before this day")
    listing.add_argument("--most", metavar="N", type=int, default=50, help="length of the list (50)")
    listing.add_argument("--before", metavar="JOB", type=int, help="go on after the list that ended with this job")
    listing.add_argument("--json", action="store_true", help="print JSON")
    listing.set_defaults(act=_list)


def _list(store: Store, args: argparse.Namespace) -> int:
    from firingend.jobs.job import Query

    query = Query(
        words=" ".join(args.words),
        engine=args.engine,
        mark=args.mark,
        customer=args.customer,
        label=args.label,
        cause=args.cause,
        status=args.status,
        opened_from=args.since,
        opened_before=args.until,
        before_number=args.before,
        most=max(1, args.most),
    )
    lines = store.list(query)
    if args.json:
        from firingend.cli.as_json import dump
        from firingend.cli.job_words import line_as_json

        dump([line_as_json(line) for line in lines])
    else:
        from firingend.cli.job_words import print_lines

        print_lines(lines)
    return 0


def _add_show(actions: Any) -> None:  # noqa: ANN401
    show = actions.add_parser("show", help="show a card")
    show.add_argument("job", metavar="JOB", type=int, help="number of the job")
    show.add_argument("--history", action="store_true", help="show every change: who, when, what")
    show.add_argument("--at", metavar="N", type=int, help="show the card as it was after change N")
    show.add_argument("--json", action="store_true", help="print JSON")
    show.set_defaults(act=_show)


def _show(store: Store, args: argparse.Namespace) -> int:
    from dataclasses import replace

    from firingend.cli.job_words import job_as_json, print_card, print_history

    job = store.job(args.job)
    if args.at is not None:
        job = replace(job, fields=store.at_revision(args.job, args.at), revision=args.at)
    if args.json:
        from firingend.cli.as_json import dump

        dump(job_as_json(store, job))
    elif args.history:
        print_history(store.history(args.job))
    else:
        print_card(store, job)
    return 0


def _add_photo(actions: Any) -> None:  # noqa: ANN401
    add = actions.add_parser("add-photo", help="keep photographs with a job, and read them")
    add.add_argument("job", metavar="JOB", type=int, help="number of the job")
    add.add_argument("photos", metavar="PHOTO", nargs="+", type=Path, help="photographs")
    _photo_options(add)
    add.set_defaults(act=_photos)


def _photo_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--cylinders", metavar="1,2,…", type=_numbers, default=(), help="whose plugs they show")
    parser.add_argument(
        "--first",
        choices=("left", "right", "top", "bottom"),
        default="left",
        help="end of the row of the first cylinder",
    )
    parser.add_argument("--stage", choices=STAGES, default="before", help="taken before or after the repair, or later")
    parser.add_argument("--no-read", action="store_true", help="keep them without reading them")
    add_who(parser)


def _photos(store: Store, args: argparse.Namespace) -> int:
    job = store.job(args.job)
    for file in args.photos:
        job = _keep_photo(store, job, file, *_row(args), args.stage, args)
        print(f"kept {file} with job {job.number}")
    return 0


def _row(args: argparse.Namespace) -> tuple[tuple[int, ...], bool]:
    cylinders: tuple[int, ...] = args.cylinders
    if args.first in ("right", "bottom"):
        cylinders = cylinders[::-1]
    return cylinders, args.first in ("left", "right")


def _keep_photo(
    store: Store,
    job: Job,
    file: Path,
    cylinders: tuple[int, ...],
    across: bool,
    stage: Stage,
    args: argparse.Namespace,
) -> Job:
    engine = job.card.engine
    if strangers := set(cylinders) - set(engine.cylinders if engine else cylinders):
        raise UserError(f"the engine of job {job.number} has no cylinder {min(strangers)}", "correct --cylinders")
    job, key = store.add_photo(job, file, cylinders=cylinders, across=across, stage=stage, who=who(args))
    if args.no_read:
        return job
    from firingend.jobs.as_case import reading_field, what_does_not_fit
    from firingend.reading import reader
    from firingend.report.versions import networks_version

    try:
        reading = reader.read_photo(store.photos_of(job)[key].file)
    except PhotoError as error:
        print(f"not read: {error}")
        return job
    path, value = reading_field(key, reading, file.name, networks_version())
    job = store.change(job, {path: value}, who(args), f"read: {file.name[:200]}")
    if problem := what_does_not_fit(job.card, key):
        print(f"kept, but not told apart by cylinder: {problem}; firingend job undo takes it off the card")
    return job


def _add_close(actions: Any) -> None:  # noqa: ANN401
    close = actions.add_parser("close", help="close a job")
    close.add_argument("job", metavar="JOB", type=int, help="number of the job")
    add_who(close)
    close.set_defaults(act=_close)


def _close(store: Store, args: argparse.Namespace) -> int:
    job = store.change(store.job(args.job), {"status": "closed"}, who(args), "job closed")
    print(f"closed job {job.number}")
    return 0


def _add_undo(actions: Any) -> None:  # noqa: ANN401
    undo = actions.add_parser("undo", help="take the latest change back; again for the one before")
    undo.add_argument("job", metavar="JOB", type=int, help="number of the job")
    add_who(undo)
    undo.set_defaults(act=_undo)


def _undo(store: Store, args: argparse.Namespace) -> int:
    job = store.undo(args.job, who(args))
    print(f"job {job.number}: {store.history(job.number, job.revision - 1)[-1].what}")
    return 0


def _add_over_time(actions: Any) -> None:  # noqa: ANN401
    compare = actions.add_parser("compare", help="show each cylinder before and after the repair")
    compare.add_argument("job", metavar="JOB", type=int, help="number of the job")
    compare.set_defaults(act=_compare)
    history = actions.add_parser("history", help="show an engine's jobs: what was found and fixed, time and money")
    history.add_argument("engine", metavar="ENGINE", help="what the engine is called")
    history.add_argument("--mark", metavar="TEXT", default="", help="what tells it from others of its kind")
    history.add_argument("--customer", metavar="TEXT", default="", help="customer reference")
    history.set_defaults(act=_history)


def _compare(store: Store, args: argparse.Namespace) -> int:
    from firingend.cli.job_words import print_side_by_side
    from firingend.jobs.over_time import side_by_side

    print_side_by_side(side_by_side(store, store.job(args.job)))
    return 0


def _history(store: Store, args: argparse.Namespace) -> int:
    from firingend.cli.job_words import print_visits
    from firingend.jobs.over_time import engine_history

    print_visits(engine_history(store, args.engine, args.mark, args.customer))
    return 0


def _add_export(actions: Any) -> None:  # noqa: ANN401
    export = actions.add_parser("export", help="write jobs into a file to hand on")
    export.add_argument("job", metavar="JOB", type=int, nargs="?", help="number of the job; all for .csv and .json")
    export.add_argument("file", metavar="FILE", type=Path, help=f"a name in {', '.join(EXPORTS)}")
    export.add_argument("--stage", choices=STAGES, default="before", help="plugs that a report begins with")
    add_reader_and_paper(export)
    export.set_defaults(act=_export)


def _export(store: Store, args: argparse.Namespace) -> int:
    from firingend.cli.report import check_folder, write
    from firingend.report.files import write_whole

    kind = args.file.suffix.lower()
    check_folder(args.file.parent)
    if kind not in EXPORTS:
        raise UserError(f"{args.file} ends in none of {', '.join(EXPORTS)}", "choose one of these endings")
    if kind in (".csv", ".json"):
        from firingend.jobs.spreadsheet import as_csv, as_json, rows_of

        rows = rows_of(store, _all_or_one(store, args.job))
        write_whole(args.file, (as_csv(rows) if kind == ".csv" else as_json(rows)).encode("utf-8"))
    elif args.job is None:
        raise UserError("a bundle or report is of one job", "give the number of the job")
    elif kind == ".zip":
        _export_bundle(store, args)
    else:
        from firingend.jobs.as_report import job_report

        result, facts = job_report(store, store.job(args.job), args.stage)
        write(result, args.file, args.reader, args.paper, facts)
    print(f"wrote {args.file}")
    return 0


def _all_or_one(store: Store, number: int | None) -> Any:  # noqa: ANN401
    from firingend.jobs.job import Query

    if number is not None:
        yield store.job(number)
        return
    before = None
    while lines := store.list(Query(before_number=before, most=200)):
        yield from (store.job(line.id) for line in lines)
        before = lines[-1].number


def _export_bundle(store: Store, args: argparse.Namespace) -> None:
    from firingend.jobs.as_report import job_report
    from firingend.jobs.bundle_out import write_bundle
    from firingend.report.gather import gather
    from firingend.report.html import render_html

    job = store.job(args.job)
    try:
        result, facts = job_report(store, job, args.stage)
        report = render_html(gather(result, job=facts))
    except UserError as error:
        print(f"without a report: {error}")
        report = None
    write_bundle(store, job, args.file, report)


def _add_import(actions: Any) -> None:  # noqa: ANN401
    take = actions.add_parser("import", help="take in a job that was exported as .zip")
    take.add_argument("bundle", metavar="FILE.zip", type=Path, help="the bundle")
    take.set_defaults(act=_import)


def _import(store: Store, args: argparse.Namespace) -> int:
    from firingend.jobs.bundle_in import read_bundle

    taken = read_bundle(store, args.bundle)
    words = {
        "new": "taken in as job",
        "continued": "brought later changes of job",
        "already here": "brought nothing new; it is job",
        "copy": "was changed here and there; it was taken in beside, as job",
    }
    print(f"{args.bundle} {words[taken.happened]} {taken.job.number}")
    return 0


def _add_watch(actions: Any) -> None:  # noqa: ANN401
    watch = actions.add_parser("watch", help="offer a job the photographs that come into a folder")
    watch.add_argument("job", metavar="JOB", type=int, help="number of the job")
    watch.add_argument("folder", metavar="DIR", type=Path, help="where a phone puts its photographs")
    watch.add_argument("--once", action="store_true", help="look once instead of until Ctrl-C")
    watch.add_argument("--yes", action="store_true", help="add them without asking")
    _photo_options(watch)
    watch.set_defaults(act=_watch)


def _watch(store: Store, args: argparse.Namespace) -> int:
    import time

    from firingend.jobs.rows import photo_keys
    from firingend.jobs.watch import offered

    known = set(photo_keys(store.job(args.job).fields).values())
    hashes: dict[tuple[Path, int, int], str] = {}
    while True:
        for photo in offered(args.folder, known, hashes=hashes):
            known.add(photo.sha256)
            if args.yes or _wants(photo.file, photo.taken):
                try:
                    _keep_photo(store, store.job(args.job), photo.file, *_row(args), args.stage, args)
                except PhotoError as error:
                    print(f"not kept: {error}")  # the next one may be better
                    continue
                print(f"kept {photo.file} with job {args.job}")
        if args.once:
            return 0
        time.sleep(2)


def _wants(file: Path, taken: datetime) -> bool:
    try:
        return input(f"add {file.name}, taken {taken:%Y-%m-%d %H:%M:%S}? [y/n] ").strip().lower() in ("y", "yes")
    except EOFError:
        return False


def _date(text: str) -> datetime:
    try:
        return datetime.strptime(text, "%Y-%m-%d").replace(tzinfo=UTC)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text} is no date such as 2026-05-04") from error


def _numbers(text: str) -> tuple[int, ...]:
    try:
        return tuple(int(each) for each in text.split(","))
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text} is no list of numbers such as 1,2,3,4") from error
