"""Which program and which trained networks made a report."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from firingend.shipped import models_dir


def program_version() -> str:
    """Version of the installed program."""
    try:
        return version("firingend")
    except PackageNotFoundError:
        return "unknown"


@cache
def networks_version(folder: Path | None = None) -> str:
    """Eight hexadecimal digits that tell one set of networks from another; empty when none is installed.

    Taken from the files themselves (SHA-256 over name and content of each network), so that it is right also
    for networks a shop has tuned.
    """
    networks = sorted((folder or models_dir()).glob("*.onnx"))
    if not networks:
        return ""
    digest = hashlib.sha256()
    for network in networks:
        digest.update(network.name.encode())
        digest.update(network.read_bytes())
    return digest.hexdigest()[:8]
