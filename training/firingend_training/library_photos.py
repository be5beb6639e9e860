"""Sample photographs that come with general-purpose image libraries: none shows a spark plug, so all must be refused.

They are for testing alone and are never trained on. Faces, a cat, coffee, a rocket, stars, textures, coins, printed
text, a motorcycle seen whole: far from engine parts in a close-up, so passing them is necessary and not enough.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firingend.evaluation.photo_set import PhotoSet, TruePicture

SCIKIT_IMAGE: Final = (
    "astronaut",
    "brick",
    "camera",
    "cell",
    "chelsea",
    "clock",
    "coffee",
    "coins",
    "grass",
    "gravel",
    "hubble_deep_field",
    "immunohistochemistry",
    "moon",
    "page",
    "retina",
    "rocket",
    "stereo_motorcycle",
    "text",
)
"""Names in ``skimage.data`` whose pictures lie in the package; the others would be downloaded."""

Pixels = NDArray[np.uint8]


def library_photos() -> dict[str, Pixels]:
    """Every sample photograph by name, uint8 (height, width, 3); none is downloaded."""
    from skimage import data
    from sklearn.datasets import load_sample_images

    pictures = {}
    for name in SCIKIT_IMAGE:
        found = getattr(data, name)()
        picture = found[0] if isinstance(found, tuple) else found  # a stereo pair: the left one
        pictures[name] = picture if picture.ndim == 3 else np.repeat(picture[..., None], 3, axis=2)
    samples = load_sample_images()
    for file, picture in zip(samples.filenames, samples.images, strict=True):
        pictures[Path(file).stem] = picture
    return pictures


def write_library_set(folder: Path) -> PhotoSet:
    """Write each photograph whole and its four quarters, as a set in which nothing is a plug.

    A quarter fills the frame the way a close-up does. The five pictures of one photograph are one group.
    """
    found = []
    for name, pixels in library_photos().items():
        for part, picture in {"whole": pixels, **_quarters(pixels)}.items():
            file = folder / f"{name}-{part}.png"
            Image.fromarray(np.ascontiguousarray(picture)).save(file)
            found.append(TruePicture(file, name, ()))
    return PhotoSet("library photographs", "folder", tuple(found))


def _quarters(pixels: Pixels) -> dict[str, Pixels]:
    y, x = pixels.shape[0] // 2, pixels.shape[1] // 2
    return {
        "top-left": pixels[:y, :x],
        "top-right": pixels[:y, x:],
        "bottom-left": pixels[y:, :x],
        "bottom-right": pixels[y:, x:],
    }
