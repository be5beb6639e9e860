"""A shop keeps a demo engine's job, repairs it, hands it on: real photographs, the shipped networks, real processes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from firingend.shipped import demo_dir


@pytest.fixture
def firingend(tmp_path):
    """Runs a command on a store of the test's own."""
    settings = {"FIRINGEND_DATA": str(tmp_path / "data"), "FIRINGEND_CONFIG": str(tmp_path / "config.toml")}

    def run(*arguments):
        done = subprocess.run(
            [sys.executable, "-m", "firingend", *map(str, arguments)],
            env=os.environ | settings,
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=240,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    return run


def test_a_job_from_the_first_photograph_to_the_other_shop(firingend, tmp_path):
    case = demo_dir() / "three-cylinder.toml"
    original = (demo_dir() / "three-cylinder" / "row.jpg").read_bytes()
    assert firingend("job", "new", "--case", case, "--customer", "yard 4", "--who", "ab") == "opened job 1\n"
    card = json.loads(firingend("job", "show", 1, "--json"))
    [photo] = card["photos"].values()
    assert Path(photo["file"]).read_bytes() == original
    [reading] = [value for path, value in card["fields"].items() if path.startswith("readings/")]
    assert [end["label"] for end in reading["reading"]["readings"]][1] == "wet"
    firingend("job", "note", 1, "injector renewed", "--found", "leaking-injector", "--where", "cylinder 2")
    firingend(
        "job", "add-photo", 1, demo_dir() / "three-cylinder" / "row.jpg", "--cylinders", "1,2,3", "--stage", "after"
    )
    assert "before" in firingend("job", "compare", 1)
    firingend("job", "export", 1, "job.zip")
    firingend("job", "export", 1, "job.pdf")
    assert (tmp_path / "job.pdf").read_bytes().startswith(b"%PDF-")
    assert "taken in as job 1" in firingend("job", "import", "job.zip", "--data", tmp_path / "other")
    assert "as it should be" in firingend("store", "check", "--data", tmp_path / "other")
    assert [line["job"] for line in json.loads(firingend("job", "list", "--label", "wet", "--json"))] == [1]
    firingend("job", "close", 1)
    assert "as it should be" in firingend("store", "check")
