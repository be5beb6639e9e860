"""Whatever leaves the shop, in any form, says nothing of where a photograph was taken or whose camera it was."""

from __future__ import annotations

import base64
import io
import re
import zipfile

import numpy as np
import pypdf
import pytest
from PIL import Image

from firingend.cli import main
from firingend.engine.build import build_engine
from firingend.jobs.as_case import reading_field
from firingend.jobs.card import to_json
from firingend.jobs.location import Location
from firingend.jobs.store import Store
from firingend.labels import LABELS
from firingend.photo.picture import Quality
from firingend.reading.reading import FiringEnd, PhotoReading, Reading

SECRET = b"secret-place-65.4321"
SHARP = Quality(300.0, 0.01, 0.02, 118.0, 3.5)


def photographed(file):
    """A photograph with its place in every corner that a camera or a phone writes it into."""
    noise = np.random.default_rng(4).integers(0, 256, (300, 600, 3), dtype=np.uint8)
    exif = Image.Exif()
    exif[0x010F] = exif[0x010E] = SECRET.decode()
    exif.get_ifd(0x8769)[0x9003] = "2026:03:04 05:06:07"
    exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0), 3: "E", 4: (65.0, 43.0, 21.0)})
    stream = io.BytesIO()
    Image.fromarray(noise).save(stream, "JPEG", exif=exif, comment=SECRET, xmp=b"<x>" + SECRET + b"</x>", quality=90)
    file.write_bytes(stream.getvalue() + SECRET)
    return file


def reading(name):
    ends = tuple(
        Reading(
            FiringEnd((300.0 * i + 20, 20.0, 300.0 * i + 280, 280.0), (0.0, -0.9), 0.97),
            label,
            {each: 0.84 if each == label else 0.04 for each in LABELS},
            quality=SHARP,
        )
        for i, label in enumerate(("wet", "normal-tan"))
    )
    return PhotoReading(name, 600, 300, SHARP, ends)


@pytest.fixture
def job_store(tmp_path, monkeypatch):
    monkeypatch.setenv("FIRINGEND_CONFIG", str(tmp_path / "config.toml"))
    monkeypatch.setenv("FIRINGEND_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("FIRINGEND_DATABASE_URL", raising=False)
    file = photographed(tmp_path / "row.jpg")
    with Store(Location(tmp_path / "data")) as store:
        engine = to_json("engine", build_engine(2, name="pump engine"))
        job = store.new_job({"name": "Pump set", "engine": engine})
        job, key = store.add_photo(job, file, cylinders=(1, 2))
        path, value = reading_field(key, reading(file), "row.jpg", "1")
        store.change(job, {path: value})
    return tmp_path


def pictures_in(name, data):
    """Every picture that a file holds, as bytes."""
    if name.endswith(".zip"):
        with zipfile.ZipFile(io.BytesIO(data)) as bundle:
            for each in bundle.namelist():
                inside = bundle.read(each)
                assert SECRET not in inside, each
                yield from pictures_in(each, inside)
    elif name.endswith(".html"):
        for found in re.findall(rb"base64,([A-Za-z0-9+/=]+)", data):
            yield base64.b64decode(found)
    elif name.endswith(".pdf"):
        for page in pypdf.PdfReader(io.BytesIO(data)).pages:
            yield from (image.data for image in page.images)
    elif name.endswith((".jpg", ".png")):
        yield data


@pytest.mark.parametrize(
    ("name", "least"), [("job.zip", 2), ("report.html", 1), ("report.pdf", 1), ("rows.csv", 0), ("rows.json", 0)]
)
def test_no_place_leaves(job_store, name, least):
    assert SECRET in (job_store / "row.jpg").read_bytes()
    assert main(["job", "export", "1", str(job_store / name)]) == 0
    data = (job_store / name).read_bytes()
    assert SECRET not in data
    pictures = list(pictures_in(name, data))
    assert len(pictures) >= least
    for each in pictures:
        assert SECRET not in each
        with Image.open(io.BytesIO(each)) as image:
            exif = image.getexif()
            assert not exif.get_ifd(0x8825)
            assert set(exif) <= {0x0112, 0x8769}
            assert not set(image.info) & {"comment", "xmp"}


def test_the_original_stays_as_it_was(job_store):
    [kept] = (job_store / "data" / "photos").glob("??/*")
    assert kept.read_bytes() == (job_store / "row.jpg").read_bytes()
