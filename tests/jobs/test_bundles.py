"""Jobs travel whole; whatever does not belong in a bundle is refused and changes nothing."""

from __future__ import annotations

import hashlib
import json
import zipfile
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from firingend.jobs.bundle_form import bundle_schema
from firingend.jobs.bundle_in import read_bundle
from firingend.jobs.bundle_out import write_bundle
from firingend.jobs.card import Note, new_key, to_json
from firingend.jobs.check import check
from firingend.jobs.location import Location
from firingend.jobs.problems import BundleError
from firingend.jobs.store import Store


@pytest.fixture
def other(tmp_path, clock):
    with Store(Location(tmp_path / "other"), clock=clock) as opened:
        yield opened


@pytest.fixture
def bundle(store, make_photo, tmp_path):
    """A job with two photographs, one of them taken off the card again, written out."""
    job = store.new_job({"name": "Pump set", "complaint": "shakes"}, "ab")
    job, gone = store.add_photo(job, make_photo(4), who="ab")
    job, _ = store.add_photo(job, make_photo(5, gps=True), cylinders=(2,), who="ab")
    job = store.change(job, {f"photos/{gone}": None}, "cd", "photograph taken off")
    file = tmp_path / "job.zip"
    write_bundle(store, job, file, "<!doctype html><title>report</title>")
    return file


def snapshot(store):
    rows = [(line, store.history(line.id)) for line in store.list()]
    kept = sorted(str(path) for path in store.location.photos.rglob("*") if path.is_file())
    return rows, kept


def rewrite(bundle, change):
    """The bundle with its files changed by ``change(files)``."""
    with zipfile.ZipFile(bundle) as old:
        inside = {name: old.read(name) for name in old.namelist()}
    change(inside)
    out = bundle.with_name("changed.zip")
    with zipfile.ZipFile(out, "w") as new:
        for name, data in inside.items():
            new.writestr(name, data)
    return out


def rewrite_card(bundle, change):
    def edit(inside):
        card = json.loads(inside["job.json"])
        change(card)
        inside["job.json"] = json.dumps(card).encode()

    return rewrite(bundle, edit)


def test_the_published_schema_is_the_one_that_is_checked():
    published = json.loads(files("firingend").joinpath("schemas/bundle.schema.json").read_text(encoding="utf-8"))
    assert published == bundle_schema()
    Draft202012Validator.check_schema(published)


def test_a_bundle_fits_its_schema(bundle):
    with zipfile.ZipFile(bundle) as opened:
        card = json.loads(opened.read("job.json"))
    validator = Draft202012Validator(bundle_schema())
    validator.validate(card)
    card["fields"]["colour"] = "red"
    assert not validator.is_valid(card)


def test_a_job_arrives_whole_under_a_number_of_its_own(store, other, bundle):
    other.new_job({"name": "somebody else's"})
    taken = read_bundle(other, bundle)
    ours = store.job(1)
    assert (taken.happened, taken.job.number, taken.job.id) == ("new", 2, ours.id)
    assert [change.what for change in other.history(2)] == [change.what for change in store.history(1)]
    assert taken.job.card.complaint == "shakes"
    assert [kept.state for kept in other.photos_of(taken.job).values()] == ["there"]
    assert check(other).faults == ()
    assert other.undo(2).card.photos.keys() > taken.job.card.photos.keys()


def test_no_place_leaves_with_a_bundle(other, bundle):
    job = read_bundle(other, bundle).job
    [kept] = other.photos_of(job).values()
    with Image.open(kept.file) as image:
        assert not image.getexif().get_ifd(0x8825)


def test_a_job_comes_back_with_what_was_done_elsewhere(store, other, bundle, tmp_path):
    job = read_bundle(other, bundle).job
    job = other.change(job, {f"notes/{new_key()}": to_json("notes/a", Note("coil renewed"))}, "xy", "note added")
    back = tmp_path / "back.zip"
    write_bundle(other, job, back)
    before = store.job(1)
    assert read_bundle(store, bundle).happened == "already here"
    taken = read_bundle(store, back)
    assert (taken.happened, taken.job.number) == ("continued", 1)
    assert [note.text for note in taken.job.card.notes.values()] == ["coil renewed"]
    # The originals stay those that were here.
    assert taken.job.card.photos == before.card.photos
    assert check(store).faults == ()
    assert read_bundle(store, back).happened == "already here"


def test_what_was_changed_here_and_there_is_kept_side_by_side(store, other, bundle, tmp_path):
    job = other.change(read_bundle(other, bundle).job, {"complaint": "stalls"})
    back = tmp_path / "back.zip"
    write_bundle(other, job, back)
    store.change(store.job(1), {"complaint": "smokes"})
    taken = read_bundle(store, back)
    assert (taken.happened, taken.job.number, taken.job.card.complaint) == ("copy", 2, "stalls")
    assert store.job(1).card.complaint == "smokes"
    assert check(store).faults == ()


def test_a_missing_photograph_does_not_keep_a_job_here(store, other, bundle, tmp_path, make_photo):
    job = store.job(1)
    [kept] = store.photos_of(job).values()
    kept.file.unlink()
    file = tmp_path / "without.zip"
    write_bundle(store, job, file)
    arrived = read_bundle(other, file).job
    assert [each.state for each in other.photos_of(arrived).values()] == ["absent"]
    result = check(other)
    assert [fault.kind for fault in result.faults] == ["absent photograph"]
    assert result.sound
    other.add_photo(arrived, make_photo(5, "found.jpg", gps=True))
    assert check(other).faults == ()


def add(name, data=b"x"):
    return lambda inside: inside.__setitem__(name, data)


def spoil_photo(inside):
    name = next(name for name in inside if name.startswith("photos/"))
    inside[name] = inside[name][:-3] + b"xyz"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (add("../evil.txt"), "does not belong"),
        (add("/etc/evil"), "does not belong"),
        (add("photos/../../evil.jpg"), "does not belong"),
        (add("photos\\evil.jpg"), "does not belong"),
        (add("run.sh"), "does not belong"),
        (add("photos/" + "0" * 64 + ".jpg"), "just the photographs"),
        (lambda inside: inside.pop("job.json"), "holds no job.json"),
        (lambda inside: inside.pop(next(n for n in inside if n.startswith("photos/"))), "just the photographs"),
        (spoil_photo, "another hash"),
        (add("job.json", b"[" * 100_000), "nested too deep"),
        (add("job.json", b'{"a": NaN}'), "no JSON"),
        (add("job.json", b"[]"), "job.json"),
        (add("job.json", b"\xff\xfe"), "no JSON"),
    ],
)
def test_what_does_not_belong_is_refused(other, bundle, change, message):
    before = snapshot(other)
    with pytest.raises(BundleError, match=message):
        read_bundle(other, rewrite(bundle, change))
    assert snapshot(other) == before
    assert not (other.location.folder.parent / "evil.txt").exists()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda card: card.update(version=2), "newer firingend"),
        (lambda card: card.update(format="other"), "format"),
        (lambda card: card.update(more=1), "more"),
        (lambda card: card["job"].update(id="../x"), "job.id"),
        (lambda card: card["fields"].update(complaint="other"), "differs from its history"),
        (lambda card: card["changes"].pop(0), "gap in its history"),
        (lambda card: card["changes"][0].update(at="yesterday"), r"changes\.0\.at"),
        (lambda card: card["changes"][0]["edits"][0].update(before="x"), "contradicts itself|no plain|correct"),
        (lambda card: card["changes"][0]["edits"][0].update(path="colour"), "no field"),
        (lambda card: card["photos"].pop(), "says nothing about photograph"),
        (lambda card: card["photos"].append(card["photos"][0]), "twice"),
        (lambda card: card["photos"][0].update(bytes=5), "another size"),
    ],
)
def test_a_card_that_is_not_what_it_must_be_is_refused(other, bundle, change, message):
    before = snapshot(other)
    with pytest.raises(BundleError, match=message):
        read_bundle(other, rewrite_card(bundle, change))
    assert snapshot(other) == before


def test_bombs_are_refused_before_they_go_off(other, bundle, tmp_path):
    big = rewrite(bundle, add("report.html", bytes(65 << 20)))
    with pytest.raises(BundleError, match="more than allowed"):
        read_bundle(other, big)
    many = tmp_path / "many.zip"
    with zipfile.ZipFile(many, "w") as new:
        for i in range(1100):
            new.writestr(f"photos/{i:064x}.jpg", b"")
    with pytest.raises(BundleError, match="too many files"):
        read_bundle(other, many)


def test_a_photograph_that_is_mostly_air_is_refused(other, bundle):
    """Twenty megabytes of nothing behind a picture pack into a few kilobytes, with the right hash and size."""
    before = snapshot(other)
    with zipfile.ZipFile(bundle) as old:
        inside = {name: old.read(name) for name in old.namelist()}
    name = next(name for name in inside if name.startswith("photos/"))
    blown = inside.pop(name) + bytes(20 << 20)
    sha256, old_sha256 = hashlib.sha256(blown).hexdigest(), name.removeprefix("photos/").partition(".")[0]
    card = json.loads(inside["job.json"].replace(old_sha256.encode(), sha256.encode()))
    [photo] = [each for each in card["photos"] if each["sha256"] == sha256]
    photo["bytes"] = len(blown)
    inside["job.json"] = json.dumps(card).encode()
    file = bundle.with_name("blown.zip")
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new:
        for each, data in (*inside.items(), (f"photos/{sha256}.jpg", blown)):
            new.writestr(each, data)
    assert file.stat().st_size < 1 << 20
    with pytest.raises(BundleError, match="unpacks to"):
        read_bundle(other, file)
    assert snapshot(other) == before


@pytest.mark.parametrize("limit", ["MOST_PHOTOS", "MOST_CHANGES", "LARGEST_CARD", "LARGEST_BUNDLE"])
def test_a_bundle_that_nobody_would_take_in_is_not_written(store, make_photo, tmp_path, monkeypatch, limit):
    from firingend.jobs import bundle_out
    from firingend.jobs.problems import StoreError

    job, _ = store.add_photo(store.new_job({"name": "Pump set"}), make_photo(1))
    monkeypatch.setattr(bundle_out, limit, 0)
    with pytest.raises(StoreError, match="too large for one bundle"):
        write_bundle(store, job, tmp_path / "large.zip")
    assert not list(tmp_path.glob("*large*"))


def test_a_size_that_is_a_lie_is_noticed(other, bundle):
    data = bundle.read_bytes()
    with zipfile.ZipFile(bundle) as opened:
        entry = opened.getinfo("job.json")
    honest, lie = entry.file_size.to_bytes(4, "little"), (entry.file_size // 2).to_bytes(4, "little")
    bundle.write_bytes(data.replace(honest, lie))
    with pytest.raises(BundleError):
        read_bundle(other, bundle)


def test_links_and_encrypted_files_are_refused(other, bundle):
    with zipfile.ZipFile(bundle) as old:
        inside = {info: old.read(info) for info in old.infolist()}
    linked = bundle.with_name("linked.zip")
    with zipfile.ZipFile(linked, "w") as new:
        for info, data in inside.items():
            if info.filename == "report.html":
                info.external_attr = 0o120777 << 16
            new.writestr(info, data)
    with pytest.raises(BundleError, match="not an ordinary file"):
        read_bundle(other, linked)


@pytest.mark.parametrize("content", [b"", b"hello", b"PK\x03\x04" + bytes(100)])
def test_what_is_no_zip_is_refused(other, tmp_path, content):
    file = tmp_path / "no.zip"
    file.write_bytes(content)
    with pytest.raises(BundleError):
        read_bundle(other, file)
    with pytest.raises(BundleError, match="no bundle"):
        read_bundle(other, tmp_path / "none.zip")


def test_a_bundle_that_cannot_be_written_leaves_none(sqlite_store, tmp_path):
    from firingend.jobs.problems import StoreError

    job = sqlite_store.new_job({"name": "Pump set"})
    with pytest.raises(StoreError, match="could not be written"):
        write_bundle(sqlite_store, job, tmp_path / "none" / "job.zip")
    assert not (tmp_path / "none").exists()
