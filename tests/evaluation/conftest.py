"""Photographs and readings for the harness; the toy networks are those of the reading room."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from firingend.labels import LABELS, UNREADABLE
from firingend.photo.picture import Quality
from firingend.reading.reading import FiringEnd, PhotoReading, Reading, Reason


def _reading_room():
    spec = importlib.util.spec_from_file_location("toy_networks", Path(__file__).parents[1] / "reading" / "conftest.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


_toy = _reading_room()
toy_models, draw_plugs = _toy.toy_models, _toy.draw_plugs

QUALITY = Quality(focus=100.0, clipped_bright=0.0, clipped_dark=0.0, mean_luma=120.0, cast_degrees=2.0)


@pytest.fixture
def quality():
    return QUALITY


@pytest.fixture
def make_reading():
    """A reading of one firing end: what it says, how sure, where."""

    def make(said, *, sure=0.9, box=(10.0, 10.0, 50.0, 50.0), score=0.9, prior=None, likeliest=None, label_set=()):
        first = said if said in LABELS else likeliest or LABELS[0]
        rest = (1 - sure) / (len(LABELS) - 1)
        return Reading(
            firing_end=FiringEnd(box, (0.0, -1.0), score),
            label=said,
            probabilities={label: sure if label == first else rest for label in LABELS},
            reasons=() if said != UNREADABLE else (Reason("unsure", "not sure", "take another"),),
            prior=prior or {},
            quality=QUALITY,
            label_set=label_set,
        )

    return make


@pytest.fixture
def make_photo_reading():
    def make(*readings, file="a.jpg"):
        return PhotoReading(Path(file), 640, 480, QUALITY, tuple(readings))

    return make


@pytest.fixture
def write_photo():
    """Write a small photograph of one colour with some grain."""

    def write(path, colour=(120, 110, 100), size=(96, 72)):
        path.parent.mkdir(parents=True, exist_ok=True)
        rng = np.random.default_rng(0)
        pixels = np.clip(np.array(colour) + rng.integers(-9, 10, (size[1], size[0], 3)), 0, 255)
        Image.fromarray(pixels.astype(np.uint8)).save(path)
        return path

    return write
