"""``firingend demo``, and the engines it ships."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from firingend import shipped
from firingend.cases.load import parse_case
from firingend.cli import demo, main, view

DEMOS = Path(__file__).parents[2] / "datasets" / "demo"


def test_shipped_demo_engines_are_what_they_are_said_to_be():
    cases = {file.stem: parse_case(file.read_text(encoding="utf-8"), file) for file in demo.demo_cases()}
    assert set(cases) == {"flat-four", "three-cylinder"}
    three = cases["three-cylinder"]
    assert [(photo.file.name, photo.cylinders) for photo in three.photos] == [("row.jpg", (1, 2, 3))]
    four = cases["flat-four"]
    assert [part.cylinders for part in four.engine.shared if part.kind == "coil"] == [(1, 2), (3, 4)]
    assert [photo.cylinders for photo in four.photos] == [(1,), (2,), (3,), (4,)]
    for case in cases.values():
        assert case.complaint
        assert len(case.outcomes) >= 2
        assert {True, False} == set(case.symptoms.values())


@pytest.fixture
def typed_demos(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The shipped demo engines with labels in place of their photographs."""
    folder = tmp_path / "demo"
    folder.mkdir()
    three = (DEMOS / "three-cylinder.toml").read_text(encoding="utf-8")
    three = re.sub(
        r"\[\[photos\]\]\nfile.*\nfirst.*\n", '[plugs]\n1 = "normal-tan"\n2 = "wet"\n3 = "normal-tan"\n', three
    )
    (folder / "three-cylinder.toml").write_text(three, encoding="utf-8")
    four = (DEMOS / "flat-four.toml").read_text(encoding="utf-8")
    for cylinder, label in enumerate(("wet", "rich-carbon", "normal-tan", "normal-tan"), start=1):
        four = four.replace(f"flat-four/cylinder-{cylinder}.jpg", label)
    (folder / "flat-four.toml").write_text(four, encoding="utf-8")
    monkeypatch.setattr(shipped, "demo_dir", lambda: folder)
    return folder


@pytest.mark.usefixtures("typed_demos")
def test_demo_prints_writes_reports_and_says_how_to_open_the_viewer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(view, "is_installed", lambda: True)
    monkeypatch.setattr(view, "open_viewer", lambda case: pytest.fail("no terminal, so no viewer"))
    assert main(["demo"]) == 0
    out = capsys.readouterr().out
    assert "Cylinder 2 is wet, 1 and 3 are tan" in out
    assert "coil A" in out
    assert out.count("CAUTION: ") >= 2
    assert 'firingend view "' in out
    assert sorted(path.name for path in tmp_path.glob("firingend-demo-*")) == [
        "firingend-demo-flat-four.html",
        "firingend-demo-flat-four.pdf",
        "firingend-demo-three-cylinder.html",
        "firingend-demo-three-cylinder.pdf",
    ]


@pytest.mark.usefixtures("typed_demos")
@pytest.mark.parametrize(
    ("display", "argv", "opens"), [(True, [], True), (False, [], False), (True, ["--no-view"], False)]
)
def test_viewer_opens_only_on_a_terminal_with_a_display(
    tmp_path: Path, display: bool, argv: list[str], opens: bool, monkeypatch: pytest.MonkeyPatch
):
    opened = []
    monkeypatch.setattr(view, "is_installed", lambda: True)
    monkeypatch.setattr(view, "open_viewer", lambda case: opened.append(case) or 0)
    monkeypatch.setattr(demo, "has_display", lambda: display)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    assert main(["demo", "--out", str(tmp_path), *argv]) == 0
    assert [case.name for case in opened] == (["flat-four.toml"] if opens else [])


def test_without_viewer_the_demo_says_how_to_get_it(
    typed_demos: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    (typed_demos / "flat-four.toml").unlink()
    monkeypatch.setattr(view, "is_installed", lambda: False)
    assert main(["demo", "--out", str(tmp_path)]) == 0
    assert 'pip install "firingend[gui]"' in capsys.readouterr().out


def test_missing_demo_engines_are_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setattr(shipped, "demo_dir", lambda: tmp_path)
    assert main(["demo", "--out", str(tmp_path)]) == 1
    assert "no demo engine lies in" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("platform", "variables", "there"),
    [
        ("linux", {}, False),
        ("linux", {"DISPLAY": ":0"}, True),
        ("linux", {"WAYLAND_DISPLAY": "wayland-0"}, True),
        ("darwin", {}, True),
        ("win32", {}, True),
    ],
)
def test_display(platform: str, variables: dict[str, str], there: bool, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("sys.platform", platform)
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert demo.has_display() is there
