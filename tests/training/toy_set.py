"""A tiny drawn set in the rendered sets' format: enough to see that training learns, in seconds, on a CPU."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from firingend_training.scenes.deposits import THREAD_DIRT
from firingend_training.truth import PictureTruth, PlugTruth, mask_value, write_truth

from firingend.labels import LABELS

COLOURS = {
    "lean-white": (235, 235, 230),
    "normal-tan": (190, 150, 105),
    "rich-carbon": (25, 25, 25),
    "oil-fouled": (45, 30, 20),
    "wet": (120, 150, 190),
    "unused": (255, 255, 255),
}
FACTS = {
    "lean-white": ("pale", "dry"),
    "normal-tan": ("tan", "dry"),
    "rich-carbon": ("black", "dry"),
    "oil-fouled": ("black", "gloss"),
    "wet": ("tan", "film"),
    "unused": ("pale", "dry"),
}


def draw_toy_set(folder: Path, scenes: int, *, seed: int = 0, side: int = 96, dirt: bool = True) -> Path:
    """Discs on a ring stand in for nose and rim; the nose's colour is the label. Every sixth scene is empty.

    With ``dirt`` the truth tells a dirt of the thread, in turn, though no thread is drawn.
    """
    rng = np.random.default_rng(seed)
    (folder / "pictures").mkdir(parents=True, exist_ok=True)
    (folder / "masks").mkdir(exist_ok=True)
    truths = []
    for scene in range(scenes):
        picture = np.full((side, side, 3), rng.integers(90, 150), np.uint8)
        mask = np.zeros((side, side), np.uint8)
        name = f"{scene:05d}"
        plugs = () if scene % 6 == 5 else (_draw_plug(picture, mask, scene, rng, side, dirt),)
        if not plugs:
            cv2.rectangle(picture, (side // 3, side // 3), (2 * side // 3, 2 * side // 3), (70, 70, 160), -1)
        cv2.imwrite(str(folder / "pictures" / f"{name}.png"), picture[..., ::-1])
        cv2.imwrite(str(folder / "masks" / f"{name}.png"), mask)
        kind = "close" if plugs else "other-part"
        truths.append(PictureTruth(f"pictures/{name}.png", f"masks/{name}.png", scene, kind, side, side, plugs))
    write_truth(folder / "truth.jsonl", truths)
    return folder


def _draw_plug(picture, mask, scene, rng, side, dirt):
    label = (*LABELS, "unused")[scene % 6]
    x, y = (int(v) for v in rng.integers(side * 2 // 5, side * 3 // 5, 2))
    outer = int(rng.integers(side // 5, side // 3))
    inner = outer * 6 // 10
    for radius, colour, part in (
        (outer, (140, 140, 145), "rim"),
        (inner, COLOURS[label], "nose"),
    ):
        cv2.circle(picture, (x, y), radius, colour, -1)
        cv2.circle(mask, (x, y), radius, mask_value(0, part), -1)
    ceramic, surface = FACTS[label]
    box = (float(x - outer), float(y - outer), float(x + outer), float(y + outer))
    nose = int((mask == mask_value(0, "nose")).sum())
    shape = {"thread_dirt": THREAD_DIRT[scene // 6 % len(THREAD_DIRT)]} if dirt else {}
    return PlugTruth(scene, label, ceramic, surface, box, (0.0, 0.0), 0.0, nose, 0.5, shape=shape)


def settings_of(**changes):
    """Command-line arguments for settings."""
    return [f"--setting={name}={value}" for name, value in changes.items()]
