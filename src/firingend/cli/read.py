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
    parser.add_argument(
        "--set-miss",
        metavar="SHARE",
        type=float,
        help="how many of the sets of labels that a plug could have may miss the right one: 0.01, 0.02 (default), "
        "0.05 or 0.1 of them",
    )
    parser.add_argument(
        "--grey",
        metavar="X0,Y0,X1,Y1",
        type=_box,
        help="where something grey lies in the one photograph (pixels from its top left, upright): colours are "
        "balanced by it instead of by what the picture itself suggests",
    )
    return parser


def _box(text: str) -> tuple[float, float, float, float]:
    try:
        x0, y0, x1, y1 = (float(side) for side in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not four numbers with commas between them") from None
    if not (0 <= x0 < x1 and 0 <= y0 < y1):
        raise argparse.ArgumentTypeError(f"{text!r}: left must be less than right, top less than bottom, none below 0")
    return x0, y0, x1, y1


def run(args: argparse.Namespace) -> int:
    """Read every photograph; one that cannot be read does not keep the others from being read."""
    from firingend.reading.reader import Reader, read_photo

    if args.grey and len(args.photos) > 1:
        raise UserError("--grey says where something grey lies in one photograph", "read one photograph at a time")
    reader = Reader(set_miss=args.set_miss)
    if args.set_miss is not None:
        _ = reader.set_limit  # a share without a limit is told once, before anything is read

    tried: list[PhotoReading | tuple[Path, UserError]] = []
    for photo in args.photos:
        try:
            tried.append(read_photo(photo, reader=reader, grey=args.grey))
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
