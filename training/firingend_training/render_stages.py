"""The three stages of a render run, each the main function of a process: build, trace, develop."""

from __future__ import annotations

import importlib
import os
import queue
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firingend_training.mitsuba_scene import CUDA
from firingend_training.orphans import end_with_parent
from firingend_training.readable import LEAST_TO_LEARN, readable, told
from firingend_training.scenes.as_found import as_found
from firingend_training.scenes.camera import Camera, develop, undeveloped
from firingend_training.scenes.composition import PlugInScene, Scene, ScenePlan, compose, stream
from firingend_training.scenes.view import View
from firingend_training.scenes.visible import plug_truths
from firingend_training.truth import PictureTruth, PlugTruth

if TYPE_CHECKING:
    from firingend_training.render import RenderSettings

Image8 = NDArray[np.uint8]
_THREAD_COUNTS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True, slots=True)
class Built:
    """A scene ready to trace, and the seconds its building took."""

    scene: Scene
    seconds: float


@dataclass(frozen=True, slots=True)
class TracedView:
    """One view as traced: linear half-float picture, and what each pixel shows."""

    view: View
    nuisance: dict[str, Any]
    picture: NDArray[np.float16]
    hit: Image8
    in_box: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Traced:
    """All views of a scene."""

    plan: ScenePlan
    members: tuple[PlugInScene, ...]
    illuminant: NDArray[np.float32]
    nuisance: dict[str, Any]
    views: tuple[TracedView, ...]
    seconds: dict[str, float]


@dataclass(frozen=True, slots=True)
class Done:
    """A finished scene: its pictures are on disk."""

    scene: int
    truths: list[PictureTruth]
    seconds: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Failed:
    """A scene that was given up, and why."""

    scene: int
    stage: str
    reason: str


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Processes started within keep to one thread of the linear algebra library each: many share the machine.

    The library reads its variables as it is loaded, before a started process could set them itself.
    """
    before = {name: os.environ.get(name) for name in _THREAD_COUNTS}
    os.environ.update({name: "1" for name in _THREAD_COUNTS if before[name] is None})
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)


def _next(source: Any, stopping: Any) -> Any:
    """Next item of a queue; None when the run ends."""
    while not stopping.is_set():
        try:
            return source.get(timeout=1)
        except queue.Empty:
            continue
    return None


# --------------------------------------------------------------------------------------------- build


def build_scenes(settings: RenderSettings, stopping: Any, plans: Any, built: Any, reports: Any) -> None:
    """Builder process: plans to scenes; never imports the renderer."""
    end_with_parent()
    cv2.setNumThreads(1)
    while (plan := _next(plans, stopping)) is not None:
        start = time.perf_counter()
        try:
            scene = compose(settings.scenes, plan)
        except Exception:
            # One bad draw must not end a run of thousands.
            reports.put(Failed(plan.number, "build", traceback.format_exc()))
            continue
        built.put(Built(scene, time.perf_counter() - start))


# --------------------------------------------------------------------------------------------- trace


def trace_scenes(
    settings: RenderSettings, stopping: Any, device_index: int | None, built: Any, traced: Any, reports: Any
) -> None:
    """Render process: scenes to linear pictures."""
    end_with_parent()
    if device_index is not None:
        os.environ["CUDA_VISIBLE_DEVICES"] = str(device_index)
    try:
        from firingend_training.mitsuba_scene import Renderer, choose_variant

        renderer = Renderer(choose_variant(settings.variant), settings.depth)
    except Exception:
        reports.put(Failed(-1, "start of the renderer", traceback.format_exc()))
        return
    while (item := _next(built, stopping)) is not None:
        scene: Scene = item.scene
        start = time.perf_counter()
        try:
            views = _trace(renderer, scene, settings)
        except Exception:
            reports.put(Failed(scene.plan.number, "trace", traceback.format_exc()))
            continue
        seconds = {"build": item.seconds, "trace": time.perf_counter() - start}
        traced.put(Traced(scene.plan, scene.members, scene.illuminant, scene.nuisance, views, seconds))


def _trace(renderer: Any, scene: Scene, settings: RenderSettings) -> tuple[TracedView, ...]:
    """Trace the views of a scene that show what they should."""
    renderer.load(scene)
    views = []
    for index, view in enumerate(scene.views):
        hit, in_box = renderer.hits(view, scene)
        truths, _ = plug_truths(scene.members, view, hit, in_box)
        if scene.members and not truths:
            continue
        wide = view.width * view.height > 1.5 * np.prod(settings.scenes.close_pixels)
        samples = settings.wide_samples if wide else settings.close_samples
        picture = renderer.picture(view, samples, seed=scene.plan.number * 16 + index)
        if settings.denoise:
            picture = denoised(picture, on_card=renderer.variant == CUDA)
        half = np.clip(picture, 0, 60000).astype(np.float16)
        views.append(TracedView(view, {"view": index, **scene.view_nuisance[index]}, half, hit, in_box))
    return tuple(views)


def denoised(picture: NDArray[np.float32], *, on_card: bool) -> NDArray[np.float32]:
    """Cleaned by Open Image Denoise (the optional package ``pyoidn``), on the graphics card where there is one."""
    oidn: Any = importlib.import_module("pyoidn")
    picture = np.ascontiguousarray(picture)
    torch: Any = importlib.import_module("torch") if on_card else None
    if torch is not None and torch.cuda.is_available():
        return np.asarray(oidn.denoise(torch.from_numpy(picture).cuda(), hdr=True).cpu(), np.float32)
    return np.asarray(oidn.denoise(picture, hdr=True), np.float32)


# --------------------------------------------------------------------------------------------- develop


def develop_views(settings: RenderSettings, stopping: Any, out: Path, traced: Any, reports: Any) -> None:
    """Developer process: linear pictures to JPEGs, masks and truth."""
    end_with_parent()
    cv2.setNumThreads(1)
    while (item := _next(traced, stopping)) is not None:
        start = time.perf_counter()
        try:
            truths = [t for view in item.views for t in _develop(settings, out, item, view)]
        except Exception:
            reports.put(Failed(item.plan.number, "develop", traceback.format_exc()))
            continue
        seconds = {**item.seconds, "develop": time.perf_counter() - start}
        reports.put(Done(item.plan.number, truths, seconds))


def _with_worth(plug: PlugTruth, order: int, picture: Image8, mask: Image8, camera: dict[str, Any]) -> PlugTruth:
    """The plug with what it is good for: a score, learning, or finding only."""
    shown, height = told(plug, picture, mask, order), picture.shape[0]
    return replace(
        plug,
        readable=shown and readable(plug, height, camera),
        teaches=shown and readable(plug, height, camera, LEAST_TO_LEARN),
    )


def _develop(settings: RenderSettings, out: Path, item: Traced, traced: TracedView) -> list[PictureTruth]:
    plan, view = item.plan, traced.view
    plugs, mask = plug_truths(item.members, view, traced.hit, traced.in_box)
    name = f"{plan.number:06d}-{traced.nuisance['view']}"
    mask_file = f"masks/{name}.png"
    _write(out / mask_file, Image.fromarray(mask), "PNG")
    render = undeveloped(clamped(traced.picture.astype(np.float32)))
    truths = []
    for index in range(settings.passes + settings.plain_passes):
        rng = stream(settings.scenes, plan.number, f"develop {traced.nuisance['view']} {index}")
        kind: Camera = "phone" if index < settings.passes else "plain"
        picture, quality, camera = develop(render, rng, item.illuminant, settings.scenes.split, kind)
        shown, parts, parts_file = plugs, mask, mask_file
        if settings.scenes.split == "train" and kind == "phone":
            rng = stream(settings.scenes, plan.number, f"found {traced.nuisance['view']} {index}")
            found = as_found(picture, [plug.box for plug in plugs], plan.kind, rng)
            if found is not None:
                parts, parts_file = found.placing.mask(mask), f"masks/{name}-{index}.png"
                _write(out / parts_file, Image.fromarray(parts), "PNG")
                shown = tuple(found.placing.plug(plug, parts, order) for order, plug in enumerate(plugs))
                camera = {**found.placing.camera(camera, view.height), "jpeg_quality": found.jpeg_quality}
                camera["found"] = found.name
                picture, quality = found.picture, found.jpeg_quality
        file = f"pictures/{name}-{index}.jpg"
        _write(out / file, Image.fromarray(picture), "JPEG", quality=int(quality))
        told = tuple(_with_worth(plug, order, picture, parts, camera) for order, plug in enumerate(shown))
        truths.append(
            PictureTruth(
                file=file,
                mask=parts_file,
                scene=plan.number,
                kind=plan.kind,
                width=picture.shape[1],
                height=picture.shape[0],
                plugs=told,
                nuisance={**item.nuisance, **traced.nuisance, **camera},
            )
        )
    return truths


def clamped(picture: NDArray[np.float32]) -> NDArray[np.float32]:
    """Fireflies removed: no pixel is much brighter than the second brightest around it."""
    luminance = picture @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    padded = np.pad(luminance, 1, mode="edge")
    height, width = luminance.shape
    brightest = second = np.full_like(luminance, -np.inf)
    for dy, dx in ((0, 0), (0, 1), (0, 2), (1, 0), (1, 2), (2, 0), (2, 1), (2, 2)):
        around = padded[dy : dy + height, dx : dx + width]
        second = np.maximum(second, np.minimum(brightest, around))
        brightest = np.maximum(brightest, around)
    limit = 1.6 * second + 1e-4
    scale = np.minimum(1, limit / np.maximum(luminance, 1e-9))
    return np.asarray(picture * scale[..., None], np.float32)


def _write(path: Path, image: Image.Image, kind: str, **options: Any) -> None:
    """Write under another name first, so that an ended process leaves no half picture."""
    memory = BytesIO()
    image.save(memory, kind, **options)
    partial = path.with_suffix(".part")
    partial.write_bytes(memory.getvalue())
    partial.rename(path)
