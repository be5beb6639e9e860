"""Stores on both kinds of database, a PostgreSQL server of the tests' own, and small photographs."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from firingend.jobs.location import Location
from firingend.jobs.store import Store


def photo_bytes(shade: int, *, gps: bool = False) -> bytes:
    """A small JPEG with a camera's time and, if wanted, a place."""
    image = Image.fromarray(np.random.default_rng(shade).integers(0, 256, (64, 96, 3), dtype=np.uint8))
    exif = Image.Exif()
    exif[0x0112] = 1
    exif.get_ifd(0x8769)[0x9003] = f"2026:03:04 05:{shade % 60:02d}:00"
    if gps:
        exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0), 3: "E", 4: (65.0, 43.0, 21.0)})
    stream = io.BytesIO()
    image.save(stream, "JPEG", exif=exif)
    return stream.getvalue()


@pytest.fixture
def make_photo(tmp_path: Path) -> Callable[..., Path]:
    """Writes a photograph into a folder of its own."""

    def make(shade: int = 1, name: str = "", *, gps: bool = False) -> Path:
        folder = tmp_path / "camera"
        folder.mkdir(exist_ok=True)
        file = folder / (name or f"plug-{shade}.jpg")
        file.write_bytes(photo_bytes(shade, gps=gps))
        return file

    return make


class Clock:
    """Moves on by a second whenever it is looked at."""

    def __init__(self) -> None:
        self.now = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@pytest.fixture
def clock() -> Clock:
    """A clock that every store of a test shares."""
    return Clock()


@pytest.fixture(scope="session")
def postgres_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """URL of a server without databases, ended with the tests; skips where PostgreSQL is not installed."""
    binaries = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl"))
    control = str(binaries[-1]) if binaries else shutil.which("pg_ctl")
    if control is None:
        if os.environ.get("FIRINGEND_REQUIRE_ALL"):
            pytest.fail("PostgreSQL is not installed (Debian: postgresql)")
        pytest.skip("PostgreSQL is not installed (Debian: postgresql)")
    # Socket paths are limited to about a hundred characters, and the server's user must reach them.
    base = Path("/tmp") / f"firingend-pg-{uuid.uuid4().hex[:8]}"
    base.mkdir()
    as_user = _become_postgres(base)
    initdb = Path(control).with_name("initdb")
    run = {"check": True, "capture_output": True, "cwd": base, "timeout": 120}
    try:
        command = [
            *as_user,
            str(initdb),
            "-D",
            f"{base}/data",
            "-A",
            "trust",
            "-U",
            "postgres",
            "--no-sync",
            "-E",
            "UTF8",
        ]
        subprocess.run(command, **run)
        options = f"-k {base} -c listen_addresses= -c fsync=off -c deadlock_timeout=200ms"
        start = [*as_user, control, "-D", f"{base}/data", "-w", "-l", f"{base}/log", "-o", options, "start"]
        # The server would keep pipes open.
        subprocess.run(start, check=True, cwd=base, timeout=60, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        yield f"postgresql://postgres@/postgres?host={base}"
    finally:
        subprocess.run(
            [*as_user, control, "-D", f"{base}/data", "-m", "immediate", "stop"],
            check=False,
            cwd=base,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        shutil.rmtree(base, ignore_errors=True)


def _become_postgres(base: Path) -> list[str]:
    """The server refuses to run as root."""
    if os.getuid() != 0:
        return []
    try:
        shutil.chown(base, "postgres", "postgres")
    except LookupError:
        pytest.skip("running as root, and there is no user postgres to run the server")
    return ["runuser", "-u", "postgres", "--"]


@pytest.fixture
def postgres_url(postgres_server: str) -> Iterator[str]:
    """A fresh database on the tests' server."""
    from sqlalchemy import create_engine, text

    name = f"t{uuid.uuid4().hex[:12]}"
    server = create_engine(postgres_server.replace("postgresql:", "postgresql+psycopg:"), isolation_level="AUTOCOMMIT")
    with server.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    yield postgres_server.replace("@/postgres?", f"@/{name}?")
    with server.connect() as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    server.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def location(request: pytest.FixtureRequest, tmp_path: Path) -> Location:
    """Where a store can be made, on either kind of database."""
    if request.param == "sqlite":
        return Location(tmp_path / "data")
    return Location(tmp_path / "data", request.getfixturevalue("postgres_url"))


@pytest.fixture
def store(location: Location, clock: Clock) -> Iterator[Store]:
    """An empty store on either kind of database."""
    with Store(location, clock=clock) as opened:
        yield opened


@pytest.fixture
def sqlite_store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    """An empty store on SQLite, for what does not depend on the database."""
    with Store(Location(tmp_path / "data"), clock=clock) as opened:
        yield opened
