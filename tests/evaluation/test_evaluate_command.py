"""The command, end to end on toy networks in the real runtime."""

from __future__ import annotations

import json

import numpy as np
import pytest
from PIL import Image

from firingend.cli import main


@pytest.fixture
def plug_set(tmp_path):
    """Bright pictures, which the toy reader calls lean: half of them are; and a black one, where it finds nothing."""
    folder = tmp_path / "set"
    folder.mkdir()
    lines = ["file,label,boxes,engine,light"]
    for i in range(6):
        _bright_picture().save(folder / f"{i}.png")
        label = "lean-white" if i % 2 == 0 else "wet"
        lines.append(f'{i}.png,{label},"20,20,108,108",engine {i // 2},{"lamp" if i < 3 else "flash"}')
    Image.new("RGB", (128, 128)).save(folder / "nothing.png")
    lines.append("nothing.png,not-a-plug,,,")
    (folder / "truth.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def _bright_picture():
    """Reddest in the middle, where the toy finder sees its one firing end; grain for focus."""
    y, x = np.mgrid[:128, :128]
    pixels = np.full((128, 128, 3), (250, 180, 230), np.int64)
    pixels[..., 0] -= (np.hypot(x - 64, y - 64) / 3).astype(np.int64)
    pixels[..., 1:] += np.random.default_rng(0).integers(-12, 13, (128, 128, 1))
    return Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8))


def test_json_has_every_documented_part(plug_set, toy_models, capsys):
    assert main(["evaluate", str(plug_set), "--models", str(toy_models), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert set(result) == {
        "format", "set", "seconds", "seed", "measures", "recall", "recall_answered", "confusion", "refusals",
        "reliability", "risk_coverage", "slices", "corruptions",
    }  # fmt: skip
    assert result["set"]["by_truth"] == {"lean-white": 3, "wet": 3, "not-a-plug": 1}
    assert result["measures"]["finder_recall"]["value"] == 1.0
    assert result["measures"]["finder_recall"]["count"] == 6
    assert result["measures"]["not_a_plug_refused"]["value"] == 1.0
    assert result["confusion"]["lean-white"]["lean-white"] == 3
    assert result["confusion"]["wet"]["lean-white"] == 3
    assert result["measures"]["balanced_accuracy"] == {"value": 0.5, "low": 0.5, "high": 0.5, "count": 6, "groups": 3}
    assert result["corruptions"] is None


def test_out_holds_json_and_a_page(plug_set, toy_models, tmp_path, capsys):
    out = tmp_path / "new" / "folder"
    assert main(["evaluate", str(plug_set), "--models", str(toy_models), "--out", str(out), "--corrupt", "2"]) == 0
    printed = capsys.readouterr().out
    assert "balanced accuracy" in printed
    assert "spoilt" in printed
    result = json.loads((out / "metrics.json").read_text())
    assert set(result["corruptions"]["mean_by_severity"]) == set("012345")
    assert result["corruptions"]["kinds"]["blur"][2]["plugs"] == 2
    assert "Spoilt photographs" in (out / "evaluation.html").read_text()


def test_a_photograph_that_is_none_does_not_stop_the_rest(plug_set, toy_models, capsys):
    (plug_set / "0.png").write_bytes(b"not a picture")
    assert main(["evaluate", str(plug_set), "--models", str(toy_models), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert [each["file"] for each in result["set"]["unopened"]] == ["0.png"]
    assert result["confusion"]["lean-white"]["not-found"] == 1


@pytest.mark.parametrize("arguments", [["nowhere"], ["SET", "--models", "nowhere"], ["SET", "--out", "SET/0.png/x"]])
def test_what_cannot_be_done_is_said(plug_set, tmp_path, toy_models, arguments, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    if "--models" not in arguments:
        arguments = [*arguments, "--models", str(toy_models)]
    assert main(["evaluate", *(argument.replace("SET", str(plug_set)) for argument in arguments)]) == 1
    error = capsys.readouterr().err
    assert error.startswith("firingend: ")
    assert "Traceback" not in error


def test_wrong_usage(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["evaluate", "x", "--corrupt", "none"])
    assert stopped.value.code == 2
