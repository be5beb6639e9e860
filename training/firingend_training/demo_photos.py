"""Render the photographs of the demo engines: ``python -m firingend_training.demo_photos --out datasets/demo``.

The plugs of one engine share their shape, bench and light; each photograph has its own deposits and view, as when a
technician works along the engine. Scene numbers were picked by eye from previews (``--preview``).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image

from firingend_training.mitsuba_scene import VARIANTS, Renderer, choose_variant
from firingend_training.render_stages import clamped, denoised
from firingend_training.scenes.camera import develop, undeveloped
from firingend_training.scenes.composition import ScenePlan, SceneSettings, compose, stream


@dataclass(frozen=True, slots=True)
class DemoPhoto:
    """One photograph: where it goes, what is on it, and which scene and view show it."""

    file: str
    kind: str
    labels: tuple[str, ...]
    scene: int
    view: int
    width: int
    height: int


GRAIN = 2.2  # standard deviation of the grain in 8-bit steps

PHOTOS = (
    DemoPhoto("three-cylinder/row.jpg", "row", ("normal-tan", "wet", "normal-tan"), 2, 0, 4000, 3000),
    DemoPhoto("flat-four/cylinder-1.jpg", "close", ("wet",), 5, 0, 2000, 1500),
    DemoPhoto("flat-four/cylinder-2.jpg", "close", ("rich-carbon",), 5, 1, 2000, 1500),
    DemoPhoto("flat-four/cylinder-3.jpg", "close", ("normal-tan",), 5, 2, 2000, 1500),
    DemoPhoto("flat-four/cylinder-4.jpg", "close", ("normal-tan",), 5, 1, 2000, 1500),
)


def take(photo: DemoPhoto, renderer: Renderer, samples: int, scale: float = 1.0) -> Image.Image:
    """The photograph, developed as a late phone would, at ``scale`` of its size."""
    pixels = (round(photo.width * scale), round(photo.height * scale))
    settings = SceneSettings(seed=2026, close_pixels=pixels, wide_pixels=pixels)
    scene = compose(settings, ScenePlan(photo.scene, photo.kind, photo.labels))
    view = replace(scene.views[photo.view], width=pixels[0], height=pixels[1])
    renderer.load(scene)
    linear = denoised(renderer.picture(view, samples, seed=photo.scene), on_card=False)
    rng = stream(settings, photo.scene, "demo")
    picture, _, _ = develop(undeveloped(clamped(linear)), rng, scene.illuminant, "train")
    # A denoised trace is smoother than any sensor: a little grain, and the file has a photograph's size.
    grain = rng.normal(0.0, GRAIN, picture.shape[:2])[..., None]
    return Image.fromarray(np.clip(picture + grain + 0.5, 0, 255).astype(np.uint8))


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and render."""
    parser = argparse.ArgumentParser(prog="firingend_training.demo_photos", description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path("datasets/demo"))
    parser.add_argument("--samples", type=int, default=12, help="a pixel, before denoising")
    parser.add_argument("--variant", default="auto", choices=("auto", *VARIANTS))
    parser.add_argument("--only", help="render just the photographs whose file contains this")
    parser.add_argument(
        "--preview", type=int, default=0, metavar="N", help="N scene numbers at 1/8 size, to choose from"
    )
    chosen = parser.parse_args(arguments)
    renderer = Renderer(choose_variant(chosen.variant))
    for photo in PHOTOS:
        if chosen.only and chosen.only not in photo.file:
            continue
        target = chosen.out / photo.file
        target.parent.mkdir(parents=True, exist_ok=True)
        if chosen.preview:
            for number in range(chosen.preview):
                preview = take(replace(photo, scene=number), renderer, 8, scale=640 / photo.width)
                preview.save(target.with_name(f"{target.stem}-preview-{number:02d}.jpg"), quality=92)
        else:
            take(photo, renderer, chosen.samples).save(target, quality=88)
            print(target)


if __name__ == "__main__":
    main()
