"""Files spoilt on purpose, from a seed, and what reading them may do: succeed, or say why not.

``python tests/jobs/hostile_files.py --files 24000`` runs it at length.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import io
import json
import os
import random
import shutil
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar, Final, Self

import numpy as np
import pillow_heif
from PIL import Image
from spoiling import Spoiler

from firingend.cases.load import load_case
from firingend.cases.write import write_case
from firingend.diagnosis.knowledge import load as load_knowledge
from firingend.engine.build import build_engine
from firingend.errors import UserError
from firingend.jobs.as_case import case_of
from firingend.jobs.bundle_in import read_bundle
from firingend.jobs.bundle_out import write_bundle
from firingend.jobs.card import TypedLabel, to_json
from firingend.jobs.check import check
from firingend.jobs.leaving import without_location
from firingend.jobs.location import Location
from firingend.jobs.over_time import side_by_side
from firingend.jobs.spreadsheet import as_csv, rows_of
from firingend.jobs.store import Store
from firingend.photo.load import load_picture

LONGEST = 5.0
"""Seconds one file may take."""

KINDS = ("JPEG", "PNG", "WEBP", "TIFF", "GIF", "BMP", "HEIF")

CASE = """\
name = "Pump set"
complaint = "Shakes \\u00e4"
[engine]
name = "flat four"
cylinders = 4
layout = "flat"
ignition = "wasted-spark"
firing_order = [1, 4, 3, 2]
[engine.banks]
left = [1, 3]
right = [2, 4]
[[engine.shared]]
kind = "coil"
name = "coil A"
cylinders = [1, 2]
[run]
before = "idled"
minutes_on_plugs = 300
[symptoms]
rough-idle = "present"
[plugs]
1 = "wet"
2 = { label = "normal-tan", sure = 0.7, signs = ["worn"] }
[[outcomes]]
check = "coil-resistance"
where = "coil A"
outcome = "off"
[[measurements]]
what = "compression-dry"
cylinder = 1
value = 1180
unit = "kPa"
condition = "warm"
[costs]
rate_per_hour = 72.5
currency = "EUR"
"""

_WRITING: Final = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_CHANGING: Final = frozenset(
    ("os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.link", "os.symlink", "os.truncate", "os.chmod", "os.chown")
)
_RUNNING: Final = frozenset(("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "socket.connect"))


class Watcher:
    """Hears of everything that this process writes, removes or starts, and notes what lies outside one folder.

    Python tells of it itself (audit events); a hook cannot be taken away again, so there is one for all.
    """

    _watching: ClassVar[Watcher | None] = None
    _hooked: ClassVar[bool] = False

    def __init__(self, folder: Path) -> None:
        self._folder = os.path.realpath(folder)
        self.heard = 0
        self.outside: list[str] = []

    def __enter__(self) -> Self:
        if not Watcher._hooked:
            sys.addaudithook(_tell)
            Watcher._hooked = True
        Watcher._watching = self
        return self

    def __exit__(self, *_: object) -> None:
        Watcher._watching = None

    def hear(self, event: str, arguments: tuple[Any, ...]) -> None:
        """Judge one event."""
        if event in _RUNNING:
            self.outside.append(f"{event} {arguments[0]!r}"[:200])
        elif event == "open":
            path, mode, flags = arguments
            if (isinstance(mode, str) and set(mode) & set("wax+")) or (isinstance(flags, int) and flags & _WRITING):
                self._judge(event, path)
        elif event in _CHANGING:
            for path in arguments[: 2 if event in ("os.rename", "os.link", "os.symlink") else 1]:
                self._judge(event, path)

    def _judge(self, event: str, path: object) -> None:
        if not isinstance(path, str | bytes | os.PathLike):
            return  # by descriptor, of a file that was opened before
        self.heard += 1
        real = os.path.realpath(os.fsdecode(path))
        if real != os.devnull and not real.startswith(self._folder + os.sep):
            self.outside.append(f"{event} {real}"[:200])


def _tell(event: str, arguments: tuple[Any, ...]) -> None:
    watching = Watcher._watching
    if watching is not None and (event == "open" or event in _CHANGING or event in _RUNNING):
        watching.hear(event, arguments)


class Hostile:
    """Spoils files and reads them, each kind into one store."""

    def __init__(self, scratch: Path, seed: int) -> None:
        self.counts: Counter[str] = Counter()
        self.failures: list[str] = []
        self._scratch = scratch
        self._chance = random.Random(seed)
        self._spoiler = Spoiler(self._chance)
        (scratch / "in").mkdir()
        self.store = Store(Location(scratch / "in" / "data"), backups=False)
        self._photos = [_photo_bytes(kind) for kind in KINDS]
        self.good_bundle = self._make_bundle()
        self._knowledge = [path.read_bytes() for path in _knowledge_files()]

    def run(self, files: int) -> None:
        """Spoil and read this many files of the four kinds, half of them bundles."""
        kinds = (self._spoil_bundle, self._spoil_card, self._spoil_case, self._spoil_photo, self._spoil_knowledge)
        weights = (0.25, 0.3, 0.25, 0.15, 0.05)
        with Watcher(self._scratch) as watcher:
            for number in range(files):
                self._chance.choices(kinds, weights)[0](number)
                if number % 500 == 499:
                    self._look_around()
            self._look_around()
        self.counts["writes watched"] += watcher.heard
        self.failures += [f"outside the store: {event}" for event in watcher.outside]
        self.store.close()

    def _try(self, what: str, number: int, read: Callable[[], object]) -> None:
        began = time.monotonic()
        try:
            read()
            self.counts[f"{what}: taken"] += 1
        except UserError as error:
            self.counts[f"{what}: refused"] += 1
            if not str(error).strip():
                self.failures.append(f"{what} {number}: no message")
        except Exception as error:
            self.failures.append(f"{what} {number}: {type(error).__name__}: {error}"[:300])
        if time.monotonic() - began > LONGEST:
            self.failures.append(f"{what} {number}: took {time.monotonic() - began:.1f} s")

    def _look_around(self) -> None:
        """Nothing may lie outside the store, and the store must be sound."""
        if strangers := [path.name for path in (self._scratch / "in").iterdir() if path.name != "data"]:
            self.failures.append(f"written outside the store: {strangers}")
        expected = {"firingend.db", "firingend.db-wal", "firingend.db-shm", "photos", "thumbnails"}
        if strangers := {path.name for path in self.store.location.folder.iterdir()} - expected:
            self.failures.append(f"written beside the store: {strangers}")
        result = check(self.store)
        if not result.sound:
            self.failures.append(f"the store is no longer sound: {result.faults[0]}")

    def _spoil_bundle(self, number: int) -> None:
        file = self._scratch / "bundle.zip"
        file.write_bytes(self._spoiler.spoilt(self.good_bundle))
        self._try("bundle", number, lambda: read_bundle(self.store, file))

    def _spoil_card(self, number: int) -> None:
        """A well-formed zip whose card or names are wrong."""
        file = self._scratch / "card.zip"
        with zipfile.ZipFile(io.BytesIO(self.good_bundle)) as old:
            inside = {name: old.read(name) for name in old.namelist()}
        card = json.loads(inside["job.json"])
        self._spoiler.spoil_card(card)
        if self._chance.random() < 0.2:
            self._spoil_photo_of(card, inside)
        inside["job.json"] = json.dumps(card).encode()
        if self._chance.random() < 0.2:
            name = self._chance.choice(
                ("../evil", "/evil", "photos/../../evil.jpg", "C:\\evil", "photos/x", "job.json/")
            )
            inside[name] = b"evil"
        with zipfile.ZipFile(file, "w") as new:
            for name, data in inside.items():
                new.writestr(name, data)
        self._try("card", number, lambda: self._take_and_use(file))

    def _spoil_photo_of(self, card: Any, inside: dict[str, bytes]) -> None:
        """Put a broken photograph in the place of the one in the bundle, with the right hash and size."""
        [name] = [name for name in inside if name.startswith("photos/")]
        data = self._spoiler.spoilt(inside.pop(name))
        sha256, old = hashlib.sha256(data).hexdigest(), name.removeprefix("photos/").partition(".")[0]
        spoilt = json.loads(json.dumps(card).replace(old, sha256))
        card.clear()
        card.update(spoilt)
        with contextlib.suppress(LookupError, TypeError):
            card["photos"][0]["bytes"] = len(data)
        inside[f"photos/{sha256}.jpg"] = data
        self.counts["card: with a broken photograph"] += 1

    def _take_and_use(self, file: Path) -> None:
        """Take a job in and do with it what a shop does."""
        job = read_bundle(self.store, file).job
        as_csv(rows_of(self.store, [job]))
        for kept in self.store.photos_of(job).values():
            self.store.photo_folder.thumbnail(kept.sha256, kept.suffix)
        write_bundle(self.store, job, self._scratch / "again.zip")
        try:
            side_by_side(self.store, job)
            case_of(job.card, self.store.photos_of(job), "before")
        except UserError:
            self.counts["card: without an engine or not as photographed"] += 1

    def _spoil_case(self, number: int) -> None:
        file = self._scratch / "case.toml"
        file.write_bytes(self._spoiler.spoilt(CASE.encode()))
        self._try("case", number, lambda: write_case(load_case(file), self._scratch / "again.toml"))

    def _spoil_photo(self, number: int) -> None:
        file = self._scratch / "photo.jpg"
        file.write_bytes(self._spoiler.spoilt(self._chance.choice(self._photos)))
        self._try("picture", number, lambda: (load_picture(file, min_side=64), without_location(file)))

    def _spoil_knowledge(self, number: int) -> None:
        file = self._scratch / "own.toml"
        file.write_bytes(self._spoiler.spoilt(self._chance.choice(self._knowledge)))
        self._try("knowledge", number, lambda: load_knowledge([file]))

    def _make_bundle(self) -> bytes:
        source = self._scratch / "source"
        with Store(Location(source), backups=False) as store:
            photo = self._scratch / "photo.jpg"
            photo.write_bytes(self._photos[0])
            job = store.new_job({"name": "Pump set", "complaint": "shakes"})
            job, _ = store.add_photo(job, photo, cylinders=(1,))
            engine = to_json("engine", build_engine(4, name="pump engine", layout="flat"))
            fields = {
                "engine": engine,
                "typed/a": to_json("typed/a", TypedLabel(2, "wet")),
                "work/a": {"what": "x", "minutes": 5},
                "measurements/a": {"what": "gap", "where": "cylinder 1", "value": 0.7, "unit": "mm", "condition": ""},
            }
            job = store.change(job, fields)
            write_bundle(store, job, self._scratch / "good.zip", "<p>report</p>")
        shutil.rmtree(source)
        return (self._scratch / "good.zip").read_bytes()


def _photo_bytes(kind: str) -> bytes:
    noise = np.random.default_rng(3).integers(0, 256, (48, 64, 3), dtype=np.uint8)
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[1] = "N"
    stream = io.BytesIO()
    pillow_heif.register_heif_opener()
    Image.fromarray(noise).save(stream, kind, **({"exif": exif} if kind not in ("GIF", "BMP") else {}))
    return stream.getvalue()


def _knowledge_files() -> list[Path]:
    import firingend.diagnosis

    return sorted(Path(firingend.diagnosis.__file__).parent.glob("knowledge/*.toml"))


def main() -> None:
    """Run at length and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=24_000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        began = time.monotonic()
        hostile = Hostile(Path(folder), args.seed)
        hostile.run(args.files)
        for name, count in sorted(hostile.counts.items()):
            print(f"{name}: {count}")
        print(f"failures: {len(hostile.failures)}; seconds: {time.monotonic() - began:.0f}")
        print("\n".join(hostile.failures[:40]))
    sys.exit(bool(hostile.failures))


if __name__ == "__main__":
    main()
