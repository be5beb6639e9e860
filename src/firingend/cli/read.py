"""``firingend read``: what each firing end in some photographs shows."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.errors import UserError

if TYPE_CHECKING:
    from firingend.cli.commands import Commands
    from firingend.reading.reading import PhotoReading


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "read",
        help="read photographs of firing ends",
        description="Reads every firing end in each photograph, from left to right or from top to bottom.",
    )
    parser.add_argument("photos", metavar="PHOTO", nargs="+", type=Path, help="JPEG, PNG, WebP, TIFF or HEIC")
    parser.add_argument("--json", action="store_true", help="print JSON, as docs/json.md describes")
    return parser


def run(args: argparse.Namespace) -> int:
    """Read every photograph; one that cannot be read does not keep the others from being read."""
    from firingend.reading.reader import read_photo

    tried: list[PhotoReading | tuple[Path, UserError]] = []
    for photo in args.photos:
        try:
            tried.append(read_photo(photo))
        except UserError as error:
            tried.append((photo, error))
    if args.json:
        from firingend.cli.as_json import dump, failed_photo, photo_reading

        dump([failed_photo(*each) if isinstance(each, tuple) else photo_reading(each) for each in tried])
    else:
        from firingend.cli.tables import print_photo

        for each in tried:
            if isinstance(each, tuple):
                print("firingend: " + " ".join(str(each[1]).split()), file=sys.stderr)
            else:
                print_photo(each)
    return int(any(isinstance(each, tuple) for each in tried))
