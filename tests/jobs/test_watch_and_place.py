"""Photographs that come in by themselves, and where the store is looked for."""

from __future__ import annotations

import os
import time

import pytest

from firingend.jobs.check import check
from firingend.jobs.location import Location, config_file, find_location, write_config
from firingend.jobs.move import copy_store, retire
from firingend.jobs.problems import StoreError
from firingend.jobs.store import Store
from firingend.jobs.watch import offered


def test_new_photographs_are_offered_in_the_order_they_were_taken(make_photo):
    late, early = make_photo(9, "a.jpg"), make_photo(3, "z.jpg")
    folder = late.parent
    (folder / "notes.txt").write_text("hello", encoding="utf-8")
    (folder / "half.jpg").write_bytes(b"\xff\xd8\xff" + bytes(30))
    twice = folder / "sub" / "copy.jpg"
    twice.parent.mkdir()
    twice.write_bytes(early.read_bytes())
    soon = time.time() + 10
    found = offered(folder, (), now=soon)
    assert [each.file.name for each in found] == ["copy.jpg", "a.jpg"]
    assert [each.file.name for each in offered(folder, {found[0].sha256}, now=soon)] == ["a.jpg"]


def test_a_file_still_being_written_waits(make_photo):
    file = make_photo(1)
    assert offered(file.parent, (), now=file.stat().st_mtime + 1) == ()
    assert len(offered(file.parent, (), now=file.stat().st_mtime + 5)) == 1


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(StoreError, match="there is no folder"):
        offered(tmp_path / "none", ())


def test_option_then_environment_then_config_file(tmp_path):
    config = tmp_path / "config.toml"
    environment = {"FIRINGEND_CONFIG": str(config)}
    assert find_location(environment=environment).folder.name == "firingend"
    write_config(config, Location(tmp_path / "by-config", "postgresql:///config"))
    assert find_location(environment=environment) == Location(tmp_path / "by-config", "postgresql:///config")
    environment |= {"FIRINGEND_DATA": str(tmp_path / "by-environment")}
    assert find_location(environment=environment) == Location(tmp_path / "by-environment")
    environment |= {"FIRINGEND_DATABASE_URL": "postgresql:///environment"}
    assert find_location(environment=environment).url == "postgresql:///environment"
    assert find_location(tmp_path / "by-option", environment=environment) == Location(tmp_path / "by-option")
    assert find_location(url="postgresql:///option", environment=environment).url == "postgresql:///option"


@pytest.mark.parametrize("text", ["data_folder = 3", "nonsense = 'x'", "= =", "data_folder = ''"])
def test_a_wrong_config_file_is_told(tmp_path, text):
    config = tmp_path / "config.toml"
    config.write_text(text, encoding="utf-8")
    with pytest.raises(StoreError, match=r"config\.toml"):
        find_location(environment={"FIRINGEND_CONFIG": str(config)})


def test_the_config_file_is_in_the_platforms_place():
    assert config_file({}).name == "config.toml"


def test_a_store_moves_whole(store, make_photo, tmp_path):
    job, key = store.add_photo(store.new_job({"name": "Pump set"}), make_photo(3))
    to = Location(tmp_path / "elsewhere")
    copy_store(store, to)
    store.close()
    retire(store.location, to)
    with Store(to, backups=False) as moved:
        assert moved.job(1) == job
        assert moved.photos_of(job)[key].state == "there"
        assert check(moved).faults == ()
        assert moved.new_job({"name": "next"}).number == 2
    if store.location.url is None:
        with pytest.raises(StoreError, match="was moved to"):
            Store(store.location)


def test_a_store_moves_between_kinds_of_database(sqlite_store, postgres_url, make_photo, tmp_path):
    job, _ = sqlite_store.add_photo(sqlite_store.new_job({"name": "Pump set"}), make_photo(3))
    server = Location(tmp_path / "server", postgres_url)
    copy_store(sqlite_store, server)
    with Store(server) as there:
        assert there.job(1) == job
        assert there.new_job({"name": "next"}).number == 2
        copy_store(there, Location(tmp_path / "back"))
    with Store(Location(tmp_path / "back")) as back:
        assert [line.number for line in back.list()] == [2, 1]
        assert back.job(1) == job


def test_a_store_is_not_moved_onto_something(sqlite_store, tmp_path):
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(StoreError, match="not empty"):
        copy_store(sqlite_store, Location(tmp_path / "full"))
    assert os.listdir(tmp_path / "full") == ["letter.txt"]  # noqa: PTH208


def test_looking_again_reads_in_full_only_what_changed(make_photo, monkeypatch):
    file, soon, hashes = make_photo(1), time.time() + 10, {}
    (first,) = offered(file.parent, (), now=soon, hashes=hashes)
    monkeypatch.setattr("firingend.jobs.watch.hash_of", lambda _: pytest.fail("read in full again"))
    assert offered(file.parent, (), now=soon, hashes=hashes) == (first,)
    assert offered(file.parent, {first.sha256}, now=soon, hashes=hashes) == ()
