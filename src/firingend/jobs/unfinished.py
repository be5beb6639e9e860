"""Files that are being written, named so that whoever finds one can tell whether its writer is gone."""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import secrets
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

LEFT_BEHIND_SECONDS: Final = 86_400
"""Age from which an unfinished file is taken to be nobody's where its writer cannot be asked."""

PART: Final = ".part"


def writer_mark() -> str:
    """Machine, process and a random part: no two writers choose the same.

    Examples
    --------
    >>> machine, process, chance = writer_mark().split("-")
    >>> int(process) == os.getpid()
    True
    """
    return f"{_machine()}-{os.getpid()}-{secrets.token_hex(6)}"


def beside(file: Path) -> Path:
    """Name of a file while it is being written, in the folder where it will lie."""
    return file.with_name(f".{file.name[:80]}.{writer_mark()}{PART}")


def left_behind(folder: Path) -> Iterator[Path]:
    """Files in a folder whose name holds the mark of a writer that is gone."""
    for path in sorted(folder.glob("*")):
        if path.is_file() and _is_gone(path):
            yield path


def _machine() -> str:
    return hashlib.sha256(platform.node().encode("utf-8", "replace")).hexdigest()[:8]


def _is_gone(path: Path) -> bool:
    with contextlib.suppress(OSError):
        if time.time() - path.stat().st_mtime > LEFT_BEHIND_SECONDS:
            return True
    # Several bays may share the folder: only the processes of this machine can be asked.
    before, _, after = path.name.partition(f"{_machine()}-")
    writer = after.partition("-")[0]
    if os.name != "posix" or not writer.isdigit() or (before and not before.endswith((".", "-"))):
        return False
    try:
        os.kill(int(writer), 0)
    except (ProcessLookupError, OverflowError):
        return True
    except OSError:
        return False
    return False
