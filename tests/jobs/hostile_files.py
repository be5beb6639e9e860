"""Files spoilt on purpose, from a seed, and what reading them may do: succeed, or say why not.

``python tests/jobs/hostile_files.py --files 24000`` runs it at length.
"""

from __future__ import annotations

import argparse
import copy
import io
import json
import random
import shutil
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

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

VALUES: tuple[Any, ...] = (
    None,
    True,
    0,
    -1,
    2**31,
    2**63,
    10**400,
    1e308,
    -0.0,
    "",
    "x",
    "\x00",
    "../../evil",
    "/etc/evil",
    "=cmd()",
    "\ud800",
    "x" * 30_000,
    [],
    {},
    [[[[]]]],
    {"a": {"b": 1}},
    "2026-01-01T00:00:00+00:00",
    "0001-01-01T00:00:00+23:59",
    "wet",
)

WORDS = (
    b"[",
    b"]",
    b"{",
    b"}",
    b'"',
    b"'",
    b"=",
    b"\n",
    b"\\u0000",
    b"\\ud800",
    b"1e999",
    b"nan",
    b"0x",
    b"[[",
    b'"""',
)


class Hostile:
    """Spoils files and reads them, each kind into one store."""

    def __init__(self, scratch: Path, seed: int) -> None:
        self.counts: Counter[str] = Counter()
        self.failures: list[str] = []
        self._scratch = scratch
        self._chance = random.Random(seed)
        (scratch / "in").mkdir()
        self.store = Store(Location(scratch / "in" / "data"), backups=False)
        self._photos = [_photo_bytes(kind) for kind in ("JPEG", "PNG", "WEBP", "TIFF", "GIF", "BMP")]
        self.good_bundle = self._make_bundle()
        self._knowledge = [path.read_bytes() for path in _knowledge_files()]

    def run(self, files: int) -> None:
        """Spoil and read this many files of the four kinds, half of them bundles."""
        kinds = (self._spoil_bundle, self._spoil_card, self._spoil_case, self._spoil_photo, self._spoil_knowledge)
        weights = (0.25, 0.3, 0.25, 0.15, 0.05)
        for number in range(files):
            self._chance.choices(kinds, weights)[0](number)
            if number % 500 == 499:
                self._look_around()
        self._look_around()
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
        expected = {"firingend.db", "firingend.db-wal", "firingend.db-shm", "photos"}
        if strangers := {path.name for path in self.store.location.folder.iterdir()} - expected:
            self.failures.append(f"written beside the store: {strangers}")
        result = check(self.store)
        if not result.sound:
            self.failures.append(f"the store is no longer sound: {result.faults[0]}")

    def _spoil_bundle(self, number: int) -> None:
        file = self._scratch / "bundle.zip"
        file.write_bytes(self._spoil_bytes(self.good_bundle))
        self._try("bundle", number, lambda: read_bundle(self.store, file))

    def _spoil_card(self, number: int) -> None:
        """A well-formed zip whose card or names are wrong."""
        file = self._scratch / "card.zip"
        with zipfile.ZipFile(io.BytesIO(self.good_bundle)) as old:
            inside = {name: old.read(name) for name in old.namelist()}
        card = json.loads(inside["job.json"])
        if self._chance.random() < 0.8:
            card["job"]["id"] = f"{self._chance.getrandbits(128):032x}"
        if self._chance.random() < 0.5:
            self._spoil_field(card)
        for _ in range(self._chance.choice((0, 0, 1, 2, 4))):
            self._spoil_value(card)
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

    def _take_and_use(self, file: Path) -> None:
        """Take a job in and do with it what a shop does."""
        job = read_bundle(self.store, file).job
        as_csv(rows_of(self.store, [job]))
        try:
            side_by_side(self.store, job)
            case_of(job.card, self.store.photos_of(job), "before")
        except UserError:
            self.counts["card: without an engine or not as photographed"] += 1

    def _spoil_case(self, number: int) -> None:
        file = self._scratch / "case.toml"
        file.write_bytes(self._spoil_bytes(CASE.encode()))
        self._try("case", number, lambda: write_case(load_case(file), self._scratch / "again.toml"))

    def _spoil_photo(self, number: int) -> None:
        file = self._scratch / "photo.jpg"
        file.write_bytes(self._spoil_bytes(self._chance.choice(self._photos)))
        self._try("picture", number, lambda: (load_picture(file, min_side=64), without_location(file)))

    def _spoil_knowledge(self, number: int) -> None:
        file = self._scratch / "own.toml"
        file.write_bytes(self._spoil_bytes(self._chance.choice(self._knowledge)))
        self._try("knowledge", number, lambda: load_knowledge([file]))

    def _spoil_bytes(self, data: bytes) -> bytes:
        spoilt = bytearray(data)
        for _ in range(self._chance.choice((1, 1, 2, 4, 16))):
            at = self._chance.randrange(len(spoilt)) if spoilt else 0
            length = self._chance.choice((1, 2, 4, 30, 300))
            act = self._chance.randrange(6)
            if act == 0 and spoilt:
                spoilt[at] ^= 1 << self._chance.randrange(8)
            elif act == 1:
                spoilt[at : at + length] = self._chance.randbytes(length)
            elif act == 2:
                del spoilt[at : at + length]
            elif act == 3:
                spoilt[at:at] = spoilt[at : at + length]
            elif act == 4:
                spoilt[at:at] = self._chance.choice(WORDS)
            else:
                number = self._chance.choice((0, 1, 0xFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF))
                spoilt[at : at + 4] = number.to_bytes(4, "little")
        if self._chance.random() < 0.05:
            del spoilt[self._chance.randrange(len(spoilt) + 1) :]
        return bytes(spoilt)

    def _spoil_value(self, node: Any) -> None:
        """Put a strange value somewhere into a tree."""
        while True:
            keys = list(node) if isinstance(node, dict) else list(range(len(node)))
            if not keys:
                return
            key = self._chance.choice(keys)
            if isinstance(node[key], dict | list) and node[key] and self._chance.random() < 0.8:
                node = node[key]
                continue
            if self._chance.random() < 0.2:
                del node[key]
            else:
                node[key] = copy.deepcopy(self._chance.choice(VALUES))
            return

    def _spoil_field(self, card: Any) -> None:
        """Change a field in the history and on the card alike, so that only its value is wrong."""
        edit = self._chance.choice(card["changes"][-1]["edits"])
        holder = {"value": json.loads(json.dumps(edit["after"]))}
        self._spoil_value(holder)
        edit["after"] = holder.get("value")
        card["fields"][edit["path"]] = holder.get("value")

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
