"""Whole files or none: a report that fails half way leaves the old file as it was."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from firingend.errors import UserError


def write_whole(path: Path, data: bytes) -> None:
    """Write ``data`` beside ``path`` and move it into place once it is complete.

    Raises
    ------
    UserError
        The folder does not exist or cannot be written, the disk is full, or ``path`` is a folder.
    """
    if path.is_dir():
        raise UserError(f"{path} is a folder", "give the name of a file to write")
    if not path.parent.is_dir():
        raise UserError(f"the folder {path.parent} does not exist", "create it or choose another place")
    # Not tempfile: its files are private to the user, and a report is there to be handed on.
    unfinished = path.with_name(f".{path.name[:80]}.{secrets.token_hex(4)}.part")
    try:
        with unfinished.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        unfinished.replace(path)
    except OSError as error:
        raise UserError(
            f"{path} could not be written ({error.strerror or error})",
            "close the program that has it open, free space on the disk, or choose another place",
        ) from error
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
