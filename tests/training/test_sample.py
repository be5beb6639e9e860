"""Some pictures of several sets taken into one."""

from __future__ import annotations

from dataclasses import replace

from firingend_training.manifest import manifest_of
from firingend_training.picture_store import held_apart, load_regions
from firingend_training.sample import main
from firingend_training.truth import read_truth, write_truth
from toy_set import draw_toy_set


def _numbered(folder, first):
    """A toy set whose scenes and files are numbered from ``first`` on, as a second card's are."""
    draw_toy_set(folder, 80, seed=first)
    truths = list(read_truth(folder / "truth.jsonl"))
    (folder / "truth.jsonl").unlink()
    moved = []
    for truth in truths:
        name = f"{truth.scene + first:05d}.png"
        for kind in ("pictures", "masks"):
            (folder / truth.file.replace("pictures", kind)).rename(folder / kind / f"n{name}")
        moved.append(replace(truth, scene=truth.scene + first, file=f"pictures/n{name}", mask=f"masks/n{name}"))
    write_truth(folder / "truth.jsonl", moved)
    (folder / "settings.json").write_text("{}")
    return folder


def test_scenes_kept_apart_come_first_and_from_every_set(tmp_path, capsys):
    first, second = _numbered(tmp_path / "a", 0), _numbered(tmp_path / "b", 1000)
    out = tmp_path / "some"
    main([str(first), str(second), "--apart", "6", "--others", "10", "--out", str(out)])
    truths = list(read_truth(out / "truth.jsonl"))
    apart = [t for t in truths if held_apart(t.scene, 0.1)]
    assert len(apart) == 6
    assert len(truths) == 16
    assert {t.scene >= 1000 for t in apart} == {True, False}
    assert "6 pictures of scenes kept apart, 10 others" in capsys.readouterr().out
    # It is a set like any other: it can be loaded and has a manifest; a file not copied would fail here.
    assert len(load_regions([out])) >= 16
    assert manifest_of(out)["counts"]["pictures"] == 16


def test_taking_again_replaces_what_was_taken(tmp_path):
    folder, out = _numbered(tmp_path / "a", 0), tmp_path / "some"
    main([str(folder), "--out", str(out)])
    main([str(folder), "--apart", "2", "--others", "3", "--out", str(out)])
    assert len(list(read_truth(out / "truth.jsonl"))) == 5
