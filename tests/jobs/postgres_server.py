"""A PostgreSQL server of the tests' own, from the system's packages, gone when they are done."""

from __future__ import annotations

import os
import shutil
import subprocess
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import create_engine, text


class NoServerError(Exception):
    """No server can be run here; the message says why."""


@contextmanager
def running_server(*, safe: bool = False) -> Iterator[str]:
    """URL of a server on a socket of its own.

    Parameters
    ----------
    safe
        Whether it waits for the disk, as a shop's does; tests of anything else are faster without.
    """
    control = _pg_ctl()
    # Socket paths are limited to about a hundred characters, and the server's user must reach them.
    base = Path("/tmp") / f"firingend-pg-{uuid.uuid4().hex[:8]}"
    base.mkdir()
    quiet = {"cwd": base, "stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    as_user = _become_postgres(base)
    data = ["-D", f"{base}/data"]
    try:
        make = [*as_user, str(control.with_name("initdb")), *data, "-A", "trust", "-U", "postgres", "-E", "UTF8"]
        subprocess.run([*make, "--no-sync"], check=True, timeout=120, **quiet)
        options = f"-k {base} -c listen_addresses= -c fsync={'on' if safe else 'off'} -c deadlock_timeout=200ms"
        start = [*as_user, str(control), *data, "-w", "-l", f"{base}/log", "-o", options, "start"]
        subprocess.run(start, check=True, timeout=60, **quiet)
        yield f"postgresql://postgres@/postgres?host={base}"
    finally:
        subprocess.run([*as_user, str(control), *data, "-m", "immediate", "stop"], check=False, **quiet)
        shutil.rmtree(base, ignore_errors=True)


@contextmanager
def fresh_database(server: str) -> Iterator[str]:
    """URL of an empty database on a server."""
    name = f"t{uuid.uuid4().hex[:12]}"
    engine = create_engine(server.replace("postgresql:", "postgresql+psycopg:"), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    try:
        yield server.replace("@/postgres?", f"@/{name}?")
    finally:
        with engine.connect() as connection:
            connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
        engine.dispose()


def _pg_ctl() -> Path:
    installed = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl"))
    found = installed[-1] if installed else shutil.which("pg_ctl")
    if found is None:
        raise NoServerError("PostgreSQL is not installed (Debian: postgresql)")
    return Path(found)


def _become_postgres(base: Path) -> list[str]:
    """The server refuses to run as root."""
    if os.getuid() != 0:
        return []
    try:
        shutil.chown(base, "postgres", "postgres")
    except LookupError as error:
        raise NoServerError("running as root, and there is no user postgres to run the server") from error
    return ["runuser", "-u", "postgres", "--"]
