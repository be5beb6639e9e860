"""A small set rendered from end to end, resumed, and its manifest."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from firingend_training import manifest, mitsuba_scene, render
from firingend_training.mitsuba_scene import SCALAR, find_llvm
from firingend_training.render_stages import Done, Failed, clamped, one_thread_each
from firingend_training.scenes.composition import SceneSettings
from firingend_training.truth import mask_value, read_truth
from PIL import Image

from firingend.errors import UserError

SCENES = SceneSettings(seed=2, kind_shares=(1, 0, 0, 0, 0), close_pixels=(72, 72), wide_pixels=(96, 72), detail=0.25)
ONE = render.Machine(builders=1, renderers=1, developers=1, device_index=None, minutes=None)


def test_plan_reaches_the_number_of_plugs():
    settings = render.RenderSettings(SceneSettings(seed=3), plugs=30)
    plans = render.plan_run(settings)
    assert 30 <= sum(len(p.labels) for p in plans) < 38
    assert [p.number for p in plans] == list(range(len(plans)))


def test_fireflies_go_and_edges_stay():
    picture = np.full((9, 9, 3), 0.2, np.float32)
    picture[:, 5:] = 1.0
    picture[2, 2] = 500.0
    cleaned = clamped(picture)
    assert cleaned[2, 2].max() < 0.4
    cleaned[2, 2] = picture[2, 2] = 0
    assert np.allclose(cleaned, picture)


def test_kinds_are_read_and_unknown_ones_refused():
    args = render.parser().parse_args(["--out", "x", "--kinds", "row=0.5,close=1"])
    assert args.kinds == (1.0, 0.0, 0.0, 0.5, 0.0)
    with pytest.raises(SystemExit):
        render.parser().parse_args(["--out", "x", "--kinds", "rwo=1"])


def test_settings_of_an_unfinished_set_must_not_change(tmp_path):
    settings = render.RenderSettings(SCENES, plugs=1)
    render._prepare(tmp_path, settings)
    render._prepare(tmp_path, replace(settings, plugs=5))
    with pytest.raises(SystemExit, match="other settings"):
        render._prepare(tmp_path, replace(settings, passes=5))


def test_a_set_begun_before_there_were_plain_pictures_goes_on(tmp_path):
    settings = render.RenderSettings(SCENES)
    render._prepare(tmp_path, settings)
    file = tmp_path / "settings.json"
    older = json.loads(file.read_text())
    del older["plain_passes"]
    file.write_text(json.dumps(older))
    with pytest.raises(SystemExit, match="other settings"):
        render._prepare(tmp_path, replace(settings, plain_passes=1))
    render._prepare(tmp_path, settings)
    assert json.loads(file.read_text())["plain_passes"] == 0


def test_a_run_whose_first_scenes_all_fail_ends_and_says_why(tmp_path, monkeypatch):
    run = render._Run(tmp_path, render.RenderSettings(SCENES, plugs=90), ONE)
    run.processes = []
    reason = "Traceback …\nRuntimeError: plugin not found"
    reports = iter([Failed(number, "trace", reason) for number in range(90)])
    monkeypatch.setattr(run, "_next_report", lambda: next(reports))
    with pytest.raises(UserError, match="trace stage: RuntimeError: plugin not found"):
        run.work(render.plan_run(run.settings), quiet=True)
    assert (tmp_path / "failed.txt").read_text().count("plugin not found") == render.HOPELESS


def test_one_good_scene_keeps_a_run_going(tmp_path, monkeypatch):
    run = render._Run(tmp_path, render.RenderSettings(SCENES, plugs=60), ONE)
    run.processes = []
    plans = render.plan_run(run.settings)
    failed = [Failed(plan.number, "trace", "x") for plan in plans]
    reports = iter([*failed[:5], Done(5, [], {}), *failed[6:]])
    monkeypatch.setattr(run, "_next_report", lambda: next(reports))
    assert run.work(plans, quiet=True)["failed"] == len(plans) - 1 > render.HOPELESS


def test_manifest_refuses_a_folder_without_truth(tmp_path):
    with pytest.raises(SystemExit):
        manifest.main([str(tmp_path)])


@pytest.mark.slow
@pytest.mark.skipif(find_llvm() is None, reason="no LLVM for the renderer")
def test_a_set_is_rendered_resumed_and_listed(tmp_path, capsys):
    settings = render.RenderSettings(SCENES, plugs=1, variant="llvm_ad_rgb", close_samples=4, passes=2, plain_passes=1)
    result = render.render_set(tmp_path, settings, ONE, quiet=True)
    assert result["failed"] == 0 and result["pictures"] >= 3
    truths = list(read_truth(tmp_path / "truth.jsonl"))
    assert len(truths) == result["pictures"]
    plain = [truth.file for truth in truths if truth.nuisance.get("family") == "plain render"]
    assert plain == [truth.file for truth in truths if truth.file.endswith("-2.jpg")] != []
    for truth in truths:
        picture = np.asarray(Image.open(tmp_path / truth.file))
        mask = np.asarray(Image.open(tmp_path / truth.mask))
        assert picture.shape == (72, 72, 3) and mask.shape == (72, 72)
        assert picture.std() > 3
        (plug,) = truth.plugs
        assert (mask == mask_value(0, "nose")).sum() == plug.nose_pixels
        x0, y0, x1, y1 = plug.box
        assert 0 <= x0 < x1 <= 72 and 0 <= y0 < y1 <= 72
    more = render.render_set(tmp_path, replace(settings, plugs=2), ONE, quiet=True)
    assert more["scenes"] == 1
    assert manifest.main([str(tmp_path)]) == 0
    listed = json.loads((tmp_path / manifest.MANIFEST).read_text())
    assert listed["counts"]["distinct_plugs"] == 2
    assert truths[0].file in listed["files"]


THREADS = """
import numpy, threadpoolctl
print(sorted({pool["num_threads"] for pool in threadpoolctl.threadpool_info()}))
"""


def test_processes_of_a_run_keep_to_one_thread_of_linear_algebra(monkeypatch):
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        monkeypatch.delenv(name, raising=False)
    with one_thread_each():
        said = subprocess.run([sys.executable, "-c", THREADS], capture_output=True, text=True, check=True).stdout
    assert said.strip() == "[1]"
    assert "OPENBLAS_NUM_THREADS" not in os.environ


def test_threads_asked_for_outside_are_left(monkeypatch):
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "3")
    with one_thread_each():
        assert os.environ["OPENBLAS_NUM_THREADS"] == "3"
    assert os.environ["OPENBLAS_NUM_THREADS"] == "3"


class Driver:
    """Stands in for the graphics driver and keeps what it is asked."""

    def __init__(self, status):
        self.status, self.asked = status, []

    def cuInit(self, _flags):
        return self.status

    def cuDeviceGet(self, _card, number):
        return 0 if number == 0 else 1

    def cuDevicePrimaryCtxSetFlags_v2(self, _card, flags):
        self.asked.append(flags)
        return 0


@pytest.mark.parametrize(("status", "asked"), [(0, [4]), (100, [])])
def test_a_render_process_asks_to_sleep_while_its_card_works(monkeypatch, status, asked):
    """CU_CTX_SCHED_BLOCKING_SYNC is 4 in the CUDA driver API; a driver without a card is left alone."""
    driver = Driver(status)
    monkeypatch.setattr(mitsuba_scene.ctypes, "CDLL", lambda _name: driver)
    mitsuba_scene._sleep_while_the_card_works()
    assert driver.asked == asked


def test_without_a_driver_nothing_is_asked(monkeypatch):
    def missing(name):
        raise OSError(name)

    monkeypatch.setattr(mitsuba_scene.ctypes, "CDLL", missing)
    mitsuba_scene._sleep_while_the_card_works()


def test_variant_names_are_offered():
    assert SCALAR in render.parser().format_help()
