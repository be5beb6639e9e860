"""Pictures of any pixel kind become 8-bit sRGB: grey, palette, CMYK, 16-bit, alpha, colour profiles."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image

if TYPE_CHECKING:
    from PIL.ImageCms import ImageCmsProfile

_WITH_ALPHA: Final = ("RGBA", "RGBa", "LA", "La", "PA")
_PROFILE_SPACES: Final = {"RGB ": "RGB", "GRAY": "L", "CMYK": "CMYK"}


def flatten(image: Image.Image) -> Image.Image:
    """Turn a decoded picture into mode RGB, L or CMYK with 8 bits a value; alpha is laid over white.

    Raises
    ------
    ValueError
        For pixels that are no photograph (floating point, 32-bit integers).
    """
    if image.mode.startswith("I;16") or (image.mode == "I" and image.format == "PNG"):
        deep = np.asarray(image).astype(np.uint32)
        return Image.fromarray(((deep * 255 + 32767) // 65535).astype(np.uint8))
    if image.mode in ("I", "F"):
        raise ValueError("pixels of 32 bits a value")
    if image.mode in _WITH_ALPHA or "transparency" in image.info:
        rgba = image.convert("RGBA")
        paper = Image.new("RGBA", rgba.size, "white")
        return Image.alpha_composite(paper, rgba).convert("RGB")
    if image.mode == "LAB":
        return _lab_to_rgb(image)
    return image if image.mode in ("RGB", "L", "CMYK") else image.convert("L" if image.mode == "1" else "RGB")


def to_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Convert an RGB, L or CMYK picture to sRGB by its embedded colour profile, if that fits and is not sRGB."""
    converted = _by_profile(image, profile) if profile else None
    if converted is not None:
        return converted
    return image if image.mode == "RGB" else image.convert("RGB")


def is_srgb(profile: bytes | None) -> bool:
    """Whether RGB pixels with this embedded colour profile, if any, can be taken for sRGB as they are."""
    return profile is None or _conversion(profile, "RGB") is None


def _by_profile(image: Image.Image, profile: bytes) -> Image.Image | None:
    """The picture in sRGB; None when the profile is sRGB already, damaged or made for other pixels."""
    source = _conversion(profile, image.mode)
    if source is None:
        return None
    from PIL import ImageCms

    try:
        return ImageCms.profileToProfile(
            image,
            source,
            ImageCms.createProfile("sRGB"),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            outputMode="RGB",
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return None


def _conversion(profile: bytes, mode: str) -> ImageCmsProfile | None:
    """The profile to convert pixels of this mode by; None when it is sRGB, damaged or made for other pixels."""
    from PIL import ImageCms

    try:
        source = ImageCms.ImageCmsProfile(BytesIO(profile))
        fits = _PROFILE_SPACES.get(source.profile.xcolor_space) == mode
        return source if fits and "srgb" not in (source.profile.profile_description or "").lower() else None
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return None


def _lab_to_rgb(image: Image.Image) -> Image.Image:
    from PIL import ImageCms

    converted = ImageCms.profileToProfile(
        image, ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), outputMode="RGB"
    )
    if converted is None:
        raise ValueError("CIELAB pixels could not be converted")
    return converted
