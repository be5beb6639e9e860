"""Networks are opened only when they are what the file beside them says."""

from __future__ import annotations

import json
import pickle

import numpy as np
import pytest

from firingend.errors import UserError
from firingend.reading.networks import FinderCard, Network, ReaderCard, normalise, read_card, thread_count


def spoil(folder, name, **changes):
    path = folder / f"{name}.json"
    card = json.loads(path.read_text(encoding="utf-8"))
    for key, value in changes.items():
        if value is None:
            del card[key]
        else:
            card[key] = value
    path.write_text(json.dumps(card), encoding="utf-8")
    return path


def test_card_is_read(toy_models):
    card = read_card(toy_models / "reader.json", ReaderCard)
    assert card.input_size == 64
    assert card.calibration().temperature("five") == 1.0
    assert card.calibration().temperature("signs") == 1.0  # not named in the card


def test_keys_of_later_versions_are_left_alone(own_models):
    assert read_card(spoil(own_models, "finder", colour="mauve"), FinderCard).version == "toy"


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"blend": None}, "blend"),
        ({"blend": 1.5}, "blend"),
        ({"prior": {"wet": 1.0}}, "prior"),
        (
            {"prior": dict.fromkeys(("lean-white", "normal-tan", "rich-carbon", "oil-fouled", "wet"), 1.0)},
            "sum to 1",
        ),
        ({"temperature": {"five": 0}}, "temperature.five"),
        ({"thresholds": {"label": 0.5}}, "thresholds"),
        ({"sha256": "abc"}, "sha256"),
        ({"input_size": "wide"}, "input_size"),
    ],
)
def test_bad_card_names_the_key(own_models, changes, word):
    with pytest.raises(UserError, match=word) as caught:
        read_card(spoil(own_models, "reader", **changes), ReaderCard)
    assert "reader.json" in str(caught.value) and caught.value.remedy


def test_card_that_is_no_json_or_is_missing(own_models):
    (own_models / "reader.json").write_text("{", encoding="utf-8")
    with pytest.raises(UserError, match="reader.json"):  # noqa: RUF043
        read_card(own_models / "reader.json", ReaderCard)
    with pytest.raises(UserError, match="cannot be opened"):
        read_card(own_models / "nothing.json", ReaderCard)


def test_another_network_than_stated_is_refused(own_models):
    sha256 = read_card(own_models / "reader.json", ReaderCard).sha256
    network = own_models / "reader.onnx"
    network.write_bytes(network.read_bytes() + b"\0")
    with pytest.raises(UserError, match="SHA-256 differs"):
        Network(network, sha256)
    with pytest.raises(UserError, match="cannot be opened"):
        Network(own_models / "nothing.onnx", sha256)


def test_only_onnx_is_loaded(tmp_path):
    import hashlib

    content = pickle.dumps({"weights": [1, 2, 3]})
    file = tmp_path / "reader.onnx"
    file.write_bytes(content)
    with pytest.raises(UserError, match="not a network") as caught:
        Network(file, hashlib.sha256(content).hexdigest())
    assert "\n" not in str(caught.value)


def test_network_runs_and_names_its_outputs(toy_models):
    network = Network(toy_models / "reader.onnx", read_card(toy_models / "reader.json", ReaderCard).sha256)
    output = network.run(crops=np.zeros((2, 3, 64, 64), np.float32))
    assert set(output) == {"five", "ceramic", "surface", "status", "signs", "severity", "cover", "parts"}
    assert output["parts"].shape == (2, 7, 16, 16)


def test_normalise():
    pixels = np.zeros((2, 4, 5, 3), np.uint8)
    pixels[1, 2, 3] = (127, 255, 0)
    planes = normalise(pixels)
    assert planes.shape == (2, 3, 4, 5) and planes.dtype == np.float32 and planes.flags.c_contiguous
    assert planes[1, :, 2, 3].tolist() == [0, 1, -127 / 128]
    assert normalise(pixels[0]).shape == (3, 4, 5)


def test_threads(monkeypatch):
    monkeypatch.delenv("FIRINGEND_THREADS", raising=False)
    assert thread_count(None) == 1
    assert thread_count(3) == 3
    monkeypatch.setenv("FIRINGEND_THREADS", "2")
    assert thread_count(None) == 2
    assert thread_count(1) == 1
    for nonsense in ("", "0", "-1", "two"):
        monkeypatch.setenv("FIRINGEND_THREADS", nonsense)
        with pytest.raises(UserError, match="FIRINGEND_THREADS"):
            thread_count(None)
