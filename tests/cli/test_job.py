"""``firingend job`` and ``firingend store`` as a technician types them."""

from __future__ import annotations

import io
import json
import re
import zipfile
from pathlib import Path

import pytest
from PIL import Image

from firingend.cli import main
from firingend.labels import LABELS
from firingend.photo.picture import Quality
from firingend.reading import reader
from firingend.reading.reading import FiringEnd, PhotoReading, Reading


@pytest.fixture(autouse=True)
def own_store(tmp_path, monkeypatch):
    """A store of the test's own, named by the environment."""
    monkeypatch.setenv("FIRINGEND_CONFIG", str(tmp_path / "config.toml"))
    monkeypatch.setenv("FIRINGEND_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("FIRINGEND_WHO", "ab")
    monkeypatch.delenv("FIRINGEND_DATABASE_URL", raising=False)
    return tmp_path / "data"


@pytest.fixture
def say(capsys):
    """Runs a command that must succeed and gives what it printed."""

    def run(*arguments, code=0):
        assert main([*map(str, arguments)]) == code
        captured = capsys.readouterr()
        return captured.err if code else captured.out

    return run


def photo(folder: Path, name: str) -> Path:
    stream = io.BytesIO()
    Image.new("RGB", (40, 30), (90, sum(name.encode()) % 256, 30)).save(stream, "JPEG")
    (folder / name).write_bytes(stream.getvalue())
    return folder / name


def test_a_job_from_its_opening_to_its_close(say, tmp_path):
    assert say("job", "new", "--engine", "pump engine", "--cylinders", 2, "--customer", "yard 4") == "opened job 1\n"
    row = photo(tmp_path, "wet_normal-tan.jpg")
    say("job", "add-photo", 1, row, "--cylinders", "1,2", "--no-read")
    say("job", "note", 1, "cylinder 1 washed", "--found", "leaking-injector", "--where", "cylinder 1")
    say(
        "job",
        "note",
        1,
        "injector changed",
        "--minutes",
        45,
        "--part",
        "injector",
        "--cost",
        "61.50",
        "--status",
        "fixed",
    )
    shown = say("job", "show", 1)
    for text in (
        "yard 4",
        "wet_normal-tan.jpg",
        "cylinder 1 washed",
        "leaking-injector (cylinder 1)",
        "45 min",
        "106 EUR",
    ):
        assert text in shown.replace("\xa0", " ")
    say("job", "close", 1, "--who", "cd")
    assert "job closed" in say("job", "undo", 1)
    history = say("job", "show", 1, "--history")
    assert re.search(r"cd\s+job closed", history)
    assert re.search(r"ab\s+took back: job closed", history)
    assert json.loads(say("job", "show", 1, "--json"))["fields"]["status"] == "fixed"
    assert json.loads(say("job", "show", 1, "--at", 1, "--json"))["fields"]["status"] == "open"


def test_photographs_are_read_when_they_are_added(say, tmp_path, monkeypatch):
    seen = []

    def stand_in(file):
        seen.append(file)
        end = FiringEnd((0.0, 0.0, 10.0, 10.0), (0.0, -1.0), 0.9)
        probabilities = {each: 0.84 if each == "wet" else 0.04 for each in LABELS}
        return PhotoReading(file, 40, 30, Quality(1.0, 0.0, 0.0, 99.0, 1.0), (Reading(end, "wet", probabilities),))

    monkeypatch.setattr(reader, "read_photo", stand_in)
    say("job", "new", "--engine", "pump engine", "--cylinders", 1)
    say("job", "add-photo", 1, photo(tmp_path, "a.jpg"), "--cylinders", 1)
    say("job", "add-photo", 1, photo(tmp_path, "b.jpg"), "--cylinders", 1, "--stage", "after")
    assert len(seen) == 2
    assert len(re.findall("wet", say("job", "compare", 1).lower())) == 2
    assert [line["job"] for line in json.loads(say("job", "list", "--label", "wet", "--json"))] == [1]
    for name in ("r.html", "r.pdf", "job.zip", "rows.csv", "rows.json"):
        say("job", "export", 1, tmp_path / name)
        assert (tmp_path / name).stat().st_size > 100
    with zipfile.ZipFile(tmp_path / "job.zip") as bundle:
        assert "report.html" in bundle.namelist()
    assert len(seen) == 2


def test_everything_on_a_card_can_be_written_by_hand(say):
    say("job", "new", "--name", "Pump set")
    say("job", "note", 1, "--engine", "pump engine", "--cylinders", 2, "--customer", "yard 4", "--mark", "INV-7")
    say("job", "note", 1, "--present", "rough idle", "--not-present", "knock", "--complaint", "shakes")
    say("job", "note", 1, "--plug", 1, "oil-fouled", "--plug", 1, "oil-fouled", "--stage", "before")
    say("job", "note", 1, "--check", "air filter", "clean")
    say("job", "note", 1, "--where", "cylinder 1", "--check", "compression-wet", "rises", "--found", "worn rings")
    say(
        "job",
        "note",
        1,
        "--where",
        "cylinder 1",
        "--measured",
        "plug-gap",
        "0.9",
        "mm",
        "--condition",
        "spec 0.7 to 0.8",
    )
    say(
        "job", "note", 1, "--where", "cylinder 1", "--tried", "worn rings", "cured", "--ruled-out", "clogged air filter"
    )
    say("job", "note", 1, "rings", "--minutes", 95, "--part", "ring set", "--count", 2, "--cost", "45.50")
    shown = say("job", "show", 1).replace("\n", " ").replace("\xa0", " ")
    for text in (
        "customer: yard 4",
        "symptoms: rough-idle",
        "not present: knock",
        "cylinder 1, before: Oil-fouled",
        "check: air-filter, engine: clean",
        "plug-gap, cylinder 1: 0.9 mm spec 0.7 to 0.8",
        "part: 2 × ring set, 46 EUR",
        "ruled out: clogged air filter (cylinder 1)",
        "together: 1 h 35 min, 140 EUR",
        "the same order on every engine: ",
    ):
        assert text in shown
    assert "1 h 35 min" in say("job", "history", "pump engine").replace("\xa0", " ")


def test_what_looking_took_stands_against_the_fixed_order(say):
    say("job", "new", "--engine", "pump engine", "--cylinders", 2)
    assert json.loads(say("job", "show", 1, "--json"))["looking"] is None
    say("job", "note", 1, "--plug", 1, "oil-fouled")
    say("job", "note", 1, "--where", "cylinder 1", "--check", "compression-wet", "rises", "--found", "worn rings")
    looking = json.loads(say("job", "show", 1, "--json"))["looking"]
    assert looking["saved"]["minutes"] == looking["fixed"]["minutes"] - looking["looked"]["minutes"] > 60
    assert "saved" in say("job", "history", "pump engine")
    say("job", "undo", 1)
    assert json.loads(say("job", "show", 1, "--json"))["looking"] is None


def test_a_damaged_photograph_is_shown_as_damaged(say, own_store, tmp_path):
    say("job", "new", "--name", "First")
    say("job", "add-photo", 1, photo(tmp_path, "a.jpg"), "--no-read")
    [kept] = (own_store / "photos").glob("??/*.jpg")
    data = bytearray(kept.read_bytes())
    data[-20] ^= 1
    kept.write_bytes(data)
    assert "[damaged: " in say("job", "show", 1)
    assert [each["state"] for each in json.loads(say("job", "show", 1, "--json"))["photos"].values()] == ["damaged"]
    kept.unlink()
    assert "[missing: " in say("job", "show", 1)


def test_a_photograph_that_does_not_fit_is_told_and_hides_nothing(say, tmp_path, monkeypatch):
    def stand_in(file):
        end = FiringEnd((0.0, 0.0, 10.0, 10.0), (0.0, -1.0), 0.9)
        probabilities = {each: 0.84 if each == "wet" else 0.04 for each in LABELS}
        return PhotoReading(file, 40, 30, Quality(1.0, 0.0, 0.0, 99.0, 1.0), (Reading(end, "wet", probabilities),))

    monkeypatch.setattr(reader, "read_photo", stand_in)
    say("job", "new", "--engine", "pump engine", "--cylinders", 3)
    say("job", "add-photo", 1, photo(tmp_path, "a.jpg"), "--cylinders", 3)
    assert "not told apart" in say("job", "add-photo", 1, photo(tmp_path, "b.jpg"), "--cylinders", "1,2")
    assert "wet" in say("job", "compare", 1).lower()
    assert "3 wet" in say("job", "history", "pump engine")


def test_lists_and_searches(say):
    say("job", "new", "--name", "First", "--complaint", "shakes when cold")
    say("job", "new", "--name", "Second", "--customer", "yard")
    numbers = lambda *query: [line["job"] for line in json.loads(say("job", "list", *query, "--json"))]  # noqa: E731
    assert numbers() == [2, 1]
    assert numbers("shak") == [1]
    assert numbers("--customer", "yard", "--status", "open") == [2]
    assert numbers("--since", "2100-01-01") == []
    assert "First" in say("job", "list")
    assert say("job", "list", "nothing") == "no job matches\n"


def test_a_case_file_becomes_a_job(say, typed_case):
    say("job", "new", "--case", typed_case, "--customer", "yard")
    shown = say("job", "show", 1)
    assert "Pump [set]" in shown
    assert "cylinder 4, before: " in shown
    assert "pump engine" in say("job", "list")
    assert "1 wet" in say("job", "history", "pump engine")


def test_a_job_travels_to_another_store(say, tmp_path):
    say("job", "new", "--name", "Travels")
    say("job", "add-photo", 1, photo(tmp_path, "a.jpg"), "--no-read")
    assert "without a report" in say("job", "export", 1, tmp_path / "job.zip")
    assert "as job 1" in say("job", "import", tmp_path / "job.zip", "--data", tmp_path / "other")
    assert "Travels" in say("job", "list", "--data", tmp_path / "other")
    assert "nothing new" in say("job", "import", tmp_path / "job.zip")


def test_a_watched_folder_is_emptied_into_the_job(say, tmp_path, monkeypatch):
    from firingend.jobs import watch

    monkeypatch.setattr(watch, "SETTLED_SECONDS", -1.0)
    folder = tmp_path / "phone"
    folder.mkdir()
    photo(folder, "one.jpg")
    photo(folder, "two.jpg")
    say("job", "new", "--name", "Watched")
    monkeypatch.setattr("builtins.input", lambda question: "y" if "one" in question else "n")
    assert "one.jpg" in say("job", "watch", 1, folder, "--once", "--no-read")
    assert say("job", "watch", 1, folder, "--once", "--no-read", "--yes").count("kept") == 1
    assert say("job", "watch", 1, folder, "--once", "--no-read", "--yes") == ""


def test_the_store_is_checked_backed_up_and_restored(say, own_store, tmp_path):
    say("job", "new", "--name", "First")
    assert "as it should be" in say("store", "check")
    backup = say("store", "backup").removeprefix("wrote ").strip()
    say("job", "new", "--name", "Second")
    assert "restored" in say("store", "restore", backup)
    assert "Second" not in say("job", "list")
    (own_store / "photos" / "ab").mkdir(parents=True)
    (own_store / "photos" / "ab" / "stray").write_text("x", encoding="utf-8")
    assert main(["store", "check"]) == 1
    assert "mended" in say("store", "check", "--mend")
    assert "copied" in say("store", "backup", "--out", tmp_path / "whole")
    assert "First" in say("job", "list", "--data", tmp_path / "whole")


def test_the_store_moves_and_is_found_again(say, tmp_path, monkeypatch):
    say("job", "new", "--name", "First")
    say("store", "move", tmp_path / "new place")
    assert "was moved to" in say("job", "list", code=1)
    monkeypatch.delenv("FIRINGEND_DATA")
    assert "First" in say("job", "list")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("job", "show", 7), "there is no job 7"),
        (("job", "new", "--engine", "x"), "number of cylinders"),
        (("job", "note", 1), "nothing to write"),
        (("job", "note", 1, "--measured", "plug-gap", "wide", "mm"), "is no number"),
        (("job", "note", 1, "--measured", "luck", "1", "mm"), "not a measurement"),
        (("job", "note", 1, "--check", "luck", "good"), 'no check is called "luck"'),
        (("job", "note", 1, "--tried", "wet plug", "maybe"), "no cause is called"),
        (("job", "note", 1, "--present", "luck"), 'no symptom is called "luck"'),
        (("job", "note", 1, "--plug", "1", "wet"), "no cylinder"),
        (("job", "note", 1, "--engine", "x"), "number of cylinders"),
        (("job", "export", 1, "x.doc"), "ends in none of"),
        (("job", "export", "x.zip"), "of one job"),
        (("job", "import", "none.zip"), "there is no bundle"),
        (("job", "add-photo", 1, "none.jpg"), "does not exist"),
        (("job", "list", "--database", "nonsense"), "no database URL"),
        (("store", "restore", "none.db"), "there is no backup"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(say, arguments, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    say("job", "new", "--name", "First")
    said = say(*arguments, code=1)
    assert message in said
    assert said.count("\n") == 1


def test_a_job_becomes_a_report_for_either_reader(say, tmp_path):
    say("job", "new", "--engine", "pump engine", "--cylinders", "2", "--customer", "yard 4")
    say("job", "note", "1", "--plug", "1", "wet")
    say("job", "note", "1", "--plug", "2", "normal-tan")
    say(
        "job",
        "note",
        "1",
        "--found",
        "dead-coil",
        "--where",
        "cylinder 1",
        "--fixed",
        "Coil renewed",
        "--status",
        "fixed",
    )
    say("job", "note", "1", "--plug", "1", "normal-tan", "--stage", "after")
    for whose, said in (("workshop", "the plugs bear it out"), ("customer", "After the repair all plugs")):
        out = tmp_path / f"{whose}.html"
        say("job", "export", "1", str(out), "--for", whose)
        page = out.read_text("utf-8")
        assert "Coil renewed" in page
        assert "yard 4" in page
        assert said in page
    say("job", "export", "1", str(tmp_path / "page.pdf"), "--for", "customer", "--paper", "Letter")
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF-")
