"""A newcomer runs the demo: real photographs, the shipped networks, real reports."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from pypdf import PdfReader

from firingend.shipped import demo_dir


def run(*arguments, cwd):
    command = [sys.executable, "-m", "firingend", *arguments]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, timeout=240, check=False)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    return run("demo", "--out", str(folder), "--no-view", cwd=folder), folder


def test_demo_ends_well_and_names_the_viewer(demo):
    done, _ = demo
    assert done.returncode == 0, done.stderr
    assert "firingend view" in done.stdout


def test_demo_writes_reports_that_open(demo):
    _, folder = demo
    pages = sorted(folder.rglob("*.html"))
    papers = sorted(folder.rglob("*.pdf"))
    assert len(pages) == len(papers) == 2
    for page in pages:
        text = page.read_text(encoding="utf-8")
        assert text.count("data:image/jpeg;base64,") >= 3
        assert "service manual" in text
    for paper in papers:
        assert "service manual" in " ".join(" ".join(p.extract_text() for p in PdfReader(paper).pages).split())


def diagnosis(case, cwd):
    done = run("diagnose", str(demo_dir() / case), "--json", cwd=cwd)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_flat_fours_pair_leads_to_its_coil(tmp_path):
    found = diagnosis("flat-four.toml", tmp_path)
    assert found["comparison"]["pattern"] == "shared-pair"
    assert found["comparison"]["cylinders"] == [1, 2]
    assert found["causes"][0]["where"].startswith("coil A")
    assert all(step["cautions"] for step in found["next"] if "spark" in step["name"].lower())


def test_the_triples_wet_cylinder_stands_out(tmp_path):
    found = diagnosis("three-cylinder.toml", tmp_path)
    assert found["comparison"]["pattern"] == "one-odd"
    assert found["comparison"]["cylinders"] == [2]
    assert found["comparison"]["label"] == "wet"
    assert "cylinder 2" in found["causes"][0]["where"]


def test_one_picture_of_the_row_is_twelve_megapixels():
    from PIL import Image

    with Image.open(demo_dir() / "three-cylinder" / "row.jpg") as picture:
        assert picture.width * picture.height == 12_000_000
