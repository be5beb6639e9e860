"""Stores on both kinds of database, a PostgreSQL server of the tests' own, and small photographs."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from postgres_server import NoServerError, fresh_database, running_server

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
def postgres_server() -> Iterator[str]:
    """URL of a server without databases, ended with the tests; skips where PostgreSQL is not installed."""
    try:
        with running_server() as url:
            yield url
    except NoServerError as error:
        if os.environ.get("FIRINGEND_REQUIRE_ALL"):
            pytest.fail(str(error))
        pytest.skip(str(error))


@pytest.fixture
def postgres_url(postgres_server: str) -> Iterator[str]:
    """A fresh database on the tests' server."""
    with fresh_database(postgres_server) as url:
        yield url


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
