"""Options that every command on the store takes, and the store they lead to."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from firingend.jobs.store import Store


def add_store_options(parser: argparse.ArgumentParser) -> None:
    """Declare where the store is and who is working."""
    parser.add_argument("--data", metavar="DIR", type=Path, help="data folder (else $FIRINGEND_DATA, config file)")
    parser.add_argument("--database", metavar="URL", help="postgresql://… (else $FIRINGEND_DATABASE_URL, config file)")


def add_who(parser: argparse.ArgumentParser) -> None:
    """Declare who makes a change."""
    parser.add_argument("--who", metavar="INITIALS", default=None, help="who makes the change (else $FIRINGEND_WHO)")


def who(args: argparse.Namespace) -> str:
    """Initials of whoever makes the change; may be empty."""
    said = args.who if args.who is not None else os.environ.get("FIRINGEND_WHO", "")
    return str(said)[:200]


def open_store(args: argparse.Namespace) -> Store:
    """The store that options, environment and config file lead to."""
    from firingend.jobs.location import find_location
    from firingend.jobs.store import Store

    return Store(find_location(args.data, args.database))
