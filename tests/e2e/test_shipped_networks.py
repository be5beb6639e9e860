"""The shipped networks are what the model card says they are."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from firingend.evaluation.evaluation import evaluate
from firingend.evaluation.load_set import load_set
from firingend.evaluation.run import reader_of
from firingend.labels import LABELS
from firingend.shipped import models_dir

ROOT = Path(__file__).parents[2]
HELD_OUT = ROOT / "datasets" / "held-out"


def test_networks_fit_the_repository():
    sizes = [path.stat().st_size for path in models_dir().glob("*.onnx")]
    assert len(sizes) == 2
    assert sum(sizes) <= 25e6


@pytest.mark.slow
def test_a_sample_of_the_held_out_set_reads_as_the_model_card_says():
    whole = load_set(HELD_OUT)
    every_eighth = replace(whole, pictures=whole.pictures[::8])
    measures = evaluate(every_eighth, reader_of(), repeats=50, workers=1).scores.measures
    stated = json.loads((models_dir() / "metrics.json").read_text(encoding="utf-8"))["measures"]
    for name in ("balanced_accuracy_first_guess", "finder_recall", "unused_not_lean", "not_a_plug_refused"):
        # The sample is an eighth of the set: it may differ from the whole by chance, not by much.
        assert measures[name].value == pytest.approx(stated[name]["value"], abs=0.12), name


def rows_of_the_card(pattern):
    """What the rows of the model card's table say, as the groups of a regular expression."""
    card = (models_dir() / "README.md").read_text(encoding="utf-8")
    rows = re.findall(pattern, card, flags=re.MULTILINE)
    assert len(rows) >= 10
    return rows


def test_the_model_card_quotes_the_metrics():
    measures = json.loads((models_dir() / "metrics.json").read_text(encoding="utf-8"))["measures"]
    for name, value in rows_of_the_card(r"^\| .*? \| `(\w+)` \| ([0-9.]+) \|"):
        assert float(value) == pytest.approx(measures[name]["value"], abs=0.0006), name


def test_the_model_card_quotes_the_metrics_of_todays_drawing():
    stated = json.loads((models_dir() / "metrics-seed-98013.json").read_text(encoding="utf-8"))
    networks = json.loads((models_dir() / "metrics.json").read_text(encoding="utf-8"))["networks"]
    assert stated["networks"] == networks
    assert networks["reader"]["sha256"] == json.loads((models_dir() / "reader.json").read_text())["sha256"]
    for name, value, count in rows_of_the_card(r"^\| .*? \| `(\w+)` \| .* \| ([0-9.]+) \| ([0-9]+) \|$"):
        measure = stated["measures"][name]
        assert float(value) == pytest.approx(measure["value"], abs=0.0006), name
        assert int(count) == measure["count"], name


def test_the_held_out_set_is_what_its_sheet_says():
    truths = [json.loads(line) for line in (HELD_OUT / "truth.jsonl").read_text(encoding="utf-8").splitlines()]
    manifest = json.loads((HELD_OUT / "manifest.json").read_text(encoding="utf-8"))
    assert len(truths) >= 500
    assert json.loads((HELD_OUT / "settings.json").read_text(encoding="utf-8"))["scenes"]["split"] == "test"
    labels = Counter(plug["label"] for truth in truths for plug in truth["plugs"])
    assert set(LABELS) < set(labels)
    assert manifest["counts"]["pictures"] == len(truths)
    missing = [name for name in manifest["files"] if name.startswith("pictures/") and not (HELD_OUT / name).exists()]
    assert not missing
