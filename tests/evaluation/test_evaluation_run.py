from __future__ import annotations

from pathlib import Path

import pytest

from firingend.errors import PhotoError, UserError
from firingend.evaluation.photo_set import PhotoSet, TruePicture, TruePlug
from firingend.evaluation.run import in_threads, try_set


def _set(count):
    plug = TruePlug("wet")
    return PhotoSet("s", "csv", tuple(TruePicture(Path(f"{i}.jpg"), str(i), (plug,)) for i in range(count)))


def test_a_photograph_that_cannot_be_read_is_named_and_counts_as_missed(make_reading, make_photo_reading):
    def read(path):
        if path.name == "1.jpg":
            raise PhotoError("1.jpg is empty (0 bytes)", "copy it again")
        return make_photo_reading(make_reading("wet"))

    told = []
    trial = try_set(_set(3), read, progress=lambda done, of: told.append((done, of)))
    assert [photo.answers[0].said for photo in trial.judged] == ["wet", "not-found", "wet"]
    assert trial.unopened == (("1.jpg", "1.jpg is empty (0 bytes): copy it again"),)
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_missing_networks_stop_the_run():
    def read(path):
        raise UserError("reader.onnx cannot be opened", "install again")

    with pytest.raises(UserError, match="cannot be opened"):
        try_set(_set(50), read)


def test_results_keep_the_order_of_the_items():
    assert list(in_threads(lambda i: i * i, range(40), 4)) == [i * i for i in range(40)]
