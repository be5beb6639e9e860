"""``firingend job`` and ``firingend store`` on a PostgreSQL database: two bays, one record."""

from __future__ import annotations

import json

import pytest

from firingend.cli import main


@pytest.fixture
def bay(tmp_path, postgres_url, capsys, monkeypatch):
    """Runs a command that must succeed, as one of the bays, and gives what it printed."""
    monkeypatch.setenv("FIRINGEND_CONFIG", str(tmp_path / "config.toml"))
    monkeypatch.setenv("FIRINGEND_DATA", str(tmp_path / "shared"))
    monkeypatch.setenv("FIRINGEND_DATABASE_URL", postgres_url)

    def run(who, *arguments):
        monkeypatch.setenv("FIRINGEND_WHO", who)
        assert main([*map(str, arguments)]) == 0
        return capsys.readouterr().out

    return run


def test_two_bays_share_the_record(bay, make_photo, tmp_path):
    bay("ab", "job", "new", "--name", "Pump set")
    bay("cd", "job", "add-photo", 1, make_photo(1), "--no-read")
    bay("ab", "job", "note", 1, "plug 2 was loose", "--status", "waiting")
    history = bay("cd", "job", "show", 1, "--history")
    assert history.index("ab") < history.index("cd") < history.rindex("ab")
    assert json.loads(bay("cd", "job", "list", "--status", "waiting", "--json"))[0]["photos"] == 1
    assert not (tmp_path / "shared" / "firingend.db").exists()


def test_a_server_is_checked_backed_up_restored_and_left(bay, make_photo, tmp_path, monkeypatch, capsys):
    bay("ab", "job", "new", "--name", "Pump set")
    bay("ab", "job", "add-photo", 1, make_photo(1), "--no-read")
    assert "as it should be" in bay("ab", "store", "check")
    backup = bay("ab", "store", "backup").removeprefix("wrote ").strip()
    bay("ab", "job", "new", "--name", "Second")
    bay("ab", "store", "restore", backup)
    assert [line["name"] for line in json.loads(bay("ab", "job", "list", "--json"))] == ["Pump set"]
    bay("ab", "store", "move", tmp_path / "one bay")
    assert main(["job", "list"]) == 1
    assert "was moved to" in capsys.readouterr().err
    monkeypatch.delenv("FIRINGEND_DATA")
    monkeypatch.delenv("FIRINGEND_DATABASE_URL")
    assert "Pump set" in bay("ab", "job", "list")
    assert (tmp_path / "one bay" / "firingend.db").exists()
