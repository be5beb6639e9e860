"""A PostgreSQL server of the tests' own, from the system's packages, gone when they are done."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import time
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
    as_user = _become_postgres(base)
    try:
        make = [*as_user, str(control.with_name("initdb")), "-D", f"{base}/data", "-A", "trust", "-U", "postgres"]
        _call([*make, "-E", "UTF8", "--no-sync"], base)
        _start(base, safe)
        yield f"postgresql://postgres@/postgres?host={base}"
    finally:
        _call([*as_user, str(control), "-D", f"{base}/data", "-m", "immediate", "stop"], base, check=False)
        shutil.rmtree(base, ignore_errors=True)


def kill(url: str) -> None:
    """Kill every process of a server at once, as a power cut would."""
    first = int((_base(url) / "data" / "postmaster.pid").read_text(encoding="utf-8").split()[0])
    # The first one is stopped before the others are looked for, so that it starts no more.
    os.kill(first, signal.SIGSTOP)
    for process in (*_children(first), first):
        with contextlib.suppress(ProcessLookupError):
            os.kill(process, signal.SIGKILL)


def start_again(url: str) -> None:
    """Start a server that was killed; it mends its own files first."""
    until = time.monotonic() + 30
    while True:
        try:
            _start(_base(url), safe=True)
        except subprocess.CalledProcessError:
            # The system may still be taking the killed processes away.
            if time.monotonic() > until:
                raise
            time.sleep(0.2)
        else:
            return


def _start(base: Path, safe: bool) -> None:
    options = f"-k {base} -c listen_addresses= -c fsync={'on' if safe else 'off'} -c deadlock_timeout=200ms"
    start = [*_become_postgres(base), str(_pg_ctl()), "-D", f"{base}/data", "-w", "-l", f"{base}/log", "-o", options]
    _call([*start, "start"], base)


def _call(command: list[str], base: Path, *, check: bool = True) -> None:
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    subprocess.run(command, check=check, timeout=120, cwd=base, **quiet)


def _base(url: str) -> Path:
    return Path(url.partition("host=")[2])


def _children(parent: int) -> list[int]:
    found = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            # The name of the program, in brackets, may hold spaces.
            if int(status.read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()[1]) == parent:
                found.append(int(status.parent.name))
    return found


@contextmanager
def fresh_database(server: str) -> Iterator[str]:
    """URL of an empty database on a server."""
    name = f"t{uuid.uuid4().hex[:12]}"
    url = server.replace("postgresql:", "postgresql+psycopg:")
    engine = create_engine(url, isolation_level="AUTOCOMMIT", pool_pre_ping=True)
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
