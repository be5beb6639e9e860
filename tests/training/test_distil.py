"""A smaller reader begins with what fits of a trained one, and learns to answer as it does."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import numpy as np
import pytest
import torch
from firingend_training import reader_task
from firingend_training.distil import Teaching, apart_from, loss_of, main, student_of, taught_batches
from firingend_training.export import load_reader
from firingend_training.networks import ReaderOutput
from firingend_training.picture_store import load_regions

SMALLER = "lite0-to-stride-16"


@pytest.fixture(scope="module")
def teacher(reader_run):
    return load_reader(reader_run)


def test_a_student_takes_over_every_weight_that_fits(teacher):
    student, fresh = student_of(teacher, replace(teacher.settings, body=SMALLER))
    assert {name.split(".")[0] for name in fresh} == {"widen"}  # the only layer that looked at the blocks cut off
    own, known = student.state_dict(), teacher.state_dict()
    assert all(torch.equal(own[name], known[name]) for name in own if name not in fresh)
    assert len(student.body.blocks) == 11


def test_a_student_of_the_same_body_is_the_teacher(teacher):
    student, fresh = student_of(teacher, teacher.settings)
    crops = torch.rand(2, 3, 64, 64)
    assert fresh == []
    assert torch.equal(student.eval()(crops).five, teacher(crops).five)


def test_crops_of_another_size_are_refused(teacher):
    with pytest.raises(ValueError, match="64 px"):
        student_of(teacher, replace(teacher.settings, crop=96))


def outputs(seed, count=6):
    generator = torch.Generator().manual_seed(seed)
    sizes = {"five": 5, "ceramic": 3, "surface": 3, "status": 3, "signs": 7, "severity": 1, "cover": 5}
    flat = {name: torch.randn(count, size, generator=generator) for name, size in sizes.items()}
    return ReaderOutput(**flat, parts=torch.randn(count, 7, 4, 4, generator=generator))


def test_nothing_is_nearer_to_the_answers_than_the_answers(teacher):
    answers = outputs(1)
    least = ReaderOutput(*(a.clone().requires_grad_() for a in answers))
    at_best = apart_from(least, answers, teacher.settings)
    at_best.backward()
    for name in ("five", "ceramic", "surface", "status", "signs", "parts"):
        assert getattr(least, name).grad.abs().max() < 1e-6, name
    for seed in range(2, 6):
        assert apart_from(outputs(seed), answers, teacher.settings) > at_best + 0.1


def test_mixed_pictures_are_between_two_and_get_an_answer_of_their_own(teacher):
    crops = torch.stack([torch.full((3, 64, 64), float(i)) for i in range(8)])
    truth = torch.arange(8)
    (shown, kept, *answers), *_ = list(taught_batches(iter([(crops, truth)]), teacher, 0.5))
    assert torch.equal(shown[4:], crops[4:])
    assert torch.equal(kept, truth)
    assert all(0.0 <= float(p.min()) == float(p.max()) <= 7.0 for p in shown)
    assert not torch.equal(shown[:4], crops[:4])
    assert torch.allclose(answers[0], teacher(shown).five, atol=1e-5)


def test_the_truth_of_mixed_pictures_has_no_say(teacher, toy_set):
    settings = replace(teacher.settings, batch=8)
    regions = load_regions([toy_set])
    tensors = reader_task.RegionTensors(regions, torch.device("cpu"))
    stream = reader_task.batches(tensors, np.arange(len(regions)), reader_task.class_of(regions), settings)
    (batch,) = islice(taught_batches(stream, teacher, 0.5), 1)
    crops, masks, five, *rest = batch
    loss = loss_of(settings, Teaching(taught=0.5, mixed=0.5))
    with torch.inference_mode():
        before = loss(teacher, batch)
        otherwise = torch.cat([(five[:4] + 1) % 5, five[4:]])
        assert loss(teacher, (crops, masks, otherwise, *rest)) == before
        otherwise = torch.cat([five[:4], (five[4:].clamp(min=0) + 1) % 5])
        assert loss(teacher, (crops, masks, otherwise, *rest)) > before


def test_a_student_comes_to_say_what_the_teacher_says(reader_run, toy_set, teacher, tmp_path, capsys):
    small = ["body=" + SMALLER, "batch=24", "steps=40", "photometric=0.3"]
    arguments = [part for setting in small for part in ("--setting", setting)]
    out = tmp_path / "student"
    main(["--teacher", str(reader_run), "--set", str(toy_set), "--out", str(out), "--device", "cpu", *arguments])
    assert "began anew: widen." in capsys.readouterr().out
    student = load_reader(out)
    assert student.settings.body == SMALLER
    regions = load_regions([toy_set])
    tensors = reader_task.RegionTensors(regions, torch.device("cpu"))
    rows = np.flatnonzero(regions.five >= 0)
    said, taught = (reader_task.outputs(net, tensors, rows, net.settings).five.argmax(1) for net in (student, teacher))
    assert (said == taught).float().mean() > 0.8
    assert (out / "apart.npz").exists()


def test_impossible_teaching_is_refused(reader_run, toy_set, tmp_path, capsys):
    for wrong in (["--taught", "0"], ["--mixed", "1"], ["--setting", "crop=96"]):
        with pytest.raises(SystemExit) as ended:
            main(["--teacher", str(reader_run), "--set", str(toy_set), "--out", str(tmp_path / "x"), *wrong])
        assert ended.value.code == 2
        assert "must be" in (told := capsys.readouterr().err) or "64 px" in told
