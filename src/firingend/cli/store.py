"""``firingend store``: check, back up, restore and move what the shop has written down."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.cli.store_options import add_store_options, open_store

if TYPE_CHECKING:
    from firingend.cli.commands import Commands


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "store",
        help="check, back up, restore or move the store of jobs",
        description="Looks after the store that firingend job keeps jobs in (docs/jobs.md).",
    )
    actions = parser.add_subparsers(title="actions", metavar="ACTION", required=True, dest="action")
    check = actions.add_parser("check", help="verify database, cards and every photograph")
    check.add_argument("--mend", action="store_true", help="put right what can be; stray files are set aside")
    backup = actions.add_parser("backup", help="make a dated backup of the database now")
    backup.add_argument("--out", metavar="DIR", type=Path, help="copy the whole store with its photographs into DIR")
    restore = actions.add_parser("restore", help="go back to a backup; the present state is backed up first")
    restore.add_argument("backup", metavar="FILE", type=Path, help="a file of the backups folder")
    move = actions.add_parser("move", help="move the store to another folder or database and use it from there")
    move.add_argument("folder", metavar="DIR", type=Path, help="a folder that is empty or not there yet")
    move.add_argument("--to-database", metavar="URL", help="keep the cards in this PostgreSQL database from now on")
    for action in (check, backup, restore, move):
        add_store_options(action)
    return parser


def run(args: argparse.Namespace) -> int:
    """Do one thing with the store."""
    actions = {"check": _check, "backup": _backup, "restore": _restore, "move": _move}
    return actions[args.action](args)


def _check(args: argparse.Namespace) -> int:
    from firingend.jobs.check import check

    with open_store(args) as store:
        result = check(store, mend=args.mend)
        for fault in result.faults:
            print(f"{'mended: ' if fault.mended else ''}{fault.kind}: {fault.what}: {fault.remedy}")
        print(f"{result.jobs} jobs, {result.changes} changes, {result.photos} photographs in {store.database.shown}")
    print("everything is as it should be" if result.sound else "something is wrong; see above for what to do")
    return 0 if result.sound else 1


def _backup(args: argparse.Namespace) -> int:
    from firingend.jobs.backup import make_backup
    from firingend.jobs.location import Location
    from firingend.jobs.move import copy_store

    with open_store(args) as store:
        if args.out is not None:
            copy_store(store, Location(args.out))
            print(f"copied the whole store to {args.out}")
        else:
            print(f"wrote {make_backup(store.database, store.location.backups, store.now())}")
    return 0


def _restore(args: argparse.Namespace) -> int:
    from firingend.jobs.backup import make_backup, restore
    from firingend.jobs.check import check

    with open_store(args) as store:
        before = make_backup(store.database, store.location.backups, store.now(), "restore")
        restore(store.database, args.backup, store.location.backups)
        print(f"restored {args.backup}; the state before is kept in {before}")
        faults = [fault for fault in check(store).faults if not fault.mended]
        for fault in faults:
            print(f"{fault.kind}: {fault.what}: {fault.remedy}")
    return 0


def _move(args: argparse.Namespace) -> int:
    from firingend.jobs.location import Location, config_file, write_config
    from firingend.jobs.move import copy_store, retire

    to = Location(args.folder, args.to_database)
    with open_store(args) as store:
        copy_store(store, to)
        old = store.location
    retire(old, to)
    if args.data is None and args.database is None:
        write_config(config_file(), to)
        print(f"moved the store to {to.folder}; {config_file()} says so from now on")
    else:
        print(f"moved the store to {to.folder}; name it with --data from now on")
    print(f"what is left in {old.folder} may be deleted once the new one has proved good")
    return 0
