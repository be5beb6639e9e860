"""A phone's camera: from clean linear light to the processed, compressed 8-bit picture people send."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

Split = Literal["train", "test"]
Camera = Literal["phone", "plain"]
Image = NDArray[Any]  # float32 throughout; OpenCV does not say so
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)
_METERED = 0.4
"""Share of pictures metered on the plug, its soot lifted to grey; in the others a black plug comes out black."""
_MIDDLE_GREY = 0.19
_PLAIN: dict[str, Any] = {
    "family": "plain render",
    "balance_strength": 1.0,
    "ev": 0.0,
    "high_key": 0.8,
    **dict.fromkeys(
        ("glare", "bloom", "vignette", "local_lift", "motion", "defocus", "noise", "sharpen", "clarity"), 0.0
    ),
    **dict.fromkeys(("equalise", "fringe", "stretch", "black"), 0.0),
    "denoise": "none",
    "contrast": 0.3,
    "saturation": 1.0,
    "shrink_to": 0,
    "first_jpeg": 0,
    "jpeg_quality": 95,
    "chroma_halved": False,
}
"""What the plain camera does: meter, balance and a tone curve, nothing else."""
_STRIP_BYTES = 1 << 18
"""What a processor's nearer cache holds: a wide picture is 15 MB, and every step over it would wait for memory."""


@dataclass(frozen=True, slots=True)
class Undeveloped:
    """A render without its fireflies, to be developed as often as pictures are wanted.

    Attributes
    ----------
    logs
        float32 (H, W, 3), logarithm of linear light.
    grain
        How much of the renderer's grain is left.
    """

    logs: Image
    grain: float


def undeveloped(linear: Image) -> Undeveloped:
    """Take out a render's fireflies: float32 (H, W, 3), linear sRGB radiance of any scale."""
    image = np.nan_to_num(np.maximum(linear, 0).astype(np.float32), posinf=1e4)
    level = float(np.mean(np.minimum(image, np.percentile(image[::4, ::4], 99)))) + 1e-6
    image = image / level
    middle = cv2.medianBlur(image, 3)
    logs = _in_strips(lambda pixels, around: cv2.log(np.minimum(pixels, 1.8 * around + 0.15) + 0.02), image, middle)
    # grain is what a 3×3 median takes away from most pixels; texture and edges sit in fewer of them
    some = np.ascontiguousarray(middle[::2, ::2])
    grain = float(np.median(np.abs(logs[::2, ::2] - cv2.log(some + 0.02)))) * 1.5
    return Undeveloped(logs, grain)


def develop(
    render: Undeveloped,
    rng: np.random.Generator,
    illuminant: NDArray[np.floating],
    split: Split,
    camera: Camera = "phone",
) -> tuple[NDArray[np.uint8], int, dict[str, Any]]:
    """Take the picture of a clean render.

    Nothing moves: every pixel of the result lies where it lay in the render, so masks stay valid.

    Parameters
    ----------
    render
        What `undeveloped` made of it.
    rng
        Source of every choice.
    illuminant
        (3,), colour of the light on the object; the white balance starts from it.
    split
        ``test`` keeps to processing styles ``train`` never draws.
    camera
        ``plain`` leaves out noise, blur, sharpening, local contrast and loss of pixels: a clean render, metered and
        balanced, to learn what the rest is worth.

    Returns
    -------
    picture
        uint8 (H, W, 3), sRGB.
    jpeg_quality
        Of the last compression. It has already been applied; writing the picture again with this quality and the
        same sampling changes it little.
    nuisance
        What was drawn, plain numbers and strings.
    """
    style = _draw_style(rng, split)
    if camera == "plain":
        style |= _PLAIN
    image = _smoothed(render, style)
    image = _balanced(image, rng, illuminant, style)
    image = _exposed(image, rng, style)
    image = _through_the_lens(image, rng, style)
    image = _tone_mapped_locally(image, style)
    image = _sensed(image, rng, style)
    encoded = _curve(image, style)
    encoded = _denoised(encoded, style)
    encoded = _resampled(encoded, rng, style)
    encoded = _sharpened(encoded, style)
    encoded = _graded(encoded, style)
    picture = _in_strips(lambda pixels: np.clip(pixels * 255 + 0.5, 0, 255).astype(np.uint8), encoded)
    picture = _compressed(picture, style)
    return picture, int(style["jpeg_quality"]), style


def _draw_style(rng: np.random.Generator, split: Split) -> dict[str, Any]:
    """All settings but the noise itself. Widths are in pixels of a 256-pixel picture."""
    u = rng.uniform
    family = str(rng.choice(["phone", "hard phone", "plain", "forum", "catalogue"], p=[0.4, 0.25, 0.1, 0.15, 0.1]))
    if split == "test":
        family = str(rng.choice(["late phone", "old phone"]))
    hard = {"hard phone": 1.8, "plain": 0.25, "catalogue": 0.8, "old phone": 1.4, "late phone": 1.1}.get(family, 1.0)
    metered = rng.random() < _METERED
    ev = rng.normal(0.05, 0.42) if metered else rng.normal(-0.5, 0.65)
    style: dict[str, Any] = {
        "family": family,
        "metered": bool(metered),
        "clean": u(0.3, 1.0),
        "balance_strength": float(np.clip(rng.normal(0.92, 0.1), 0.6, 1.1)),
        "ev": float(np.clip(ev, -2.1, 1.1)),
        "high_key": u(1.5, 3.2) if family == "catalogue" else u(0, 1.6),
        "glare": 0.03 * u(0, 1) ** 2,
        "bloom": 0.035 * u(0, 1) ** 1.5,
        "bloom_width": u(2, 9),
        "vignette": u(0, 0.28),
        "local_lift": u(0, 0.5 if metered and family not in ("plain", "catalogue") else 0.2),
        "motion": u(0.8, 3.2) if rng.random() < 0.16 else 0.0,
        "defocus": u(0.3, 1.3) if rng.random() < 0.28 else 0.0,
        "noise": float(u(0, 1) ** 2.2) * (0.05 if family != "catalogue" else 0.01),
        "denoise": str(rng.choice(["none", "bilateral", "median", "both"], p=[0.2, 0.45, 0.2, 0.15])),
        "denoise_strength": u(0.3, 1.0),
        "white": u(2.2, 7.0),
        "shoulder": u(0.35, 0.9),
        "contrast": u(0.0, 0.9) if family != "forum" else u(-0.2, 0.8),
        "saturation": float(np.clip(rng.normal(1.08, 0.17), 0.7, 1.5)),
        "sharpen": hard * u(0.3, 1.9),
        "sharpen_width": u(0.5, 1.5),
        "halo_limit": u(0.03, 0.25),
        "clarity": hard * (u(0.1, 0.7) if rng.random() < 0.7 else 0.0),
        "clarity_width": u(6, 22),
        "equalise": u(0.15, 0.5) if rng.random() < 0.22 * hard else 0.0,
        "fringe": u(-0.5, 0.5) if rng.random() < 0.4 else 0.0,
        "shrink_to": 0,
        "stretch": u(0, 1) if rng.random() < 0.75 else 0.0,
        "black": u(0.0, 0.1) if rng.random() < (0.4 if metered else 0.2) else float(rng.normal(-0.006, 0.014)),
        "first_jpeg": int(u(40, 92)) if rng.random() < 0.35 else 0,
        "jpeg_quality": int(u(60, 97)) if rng.random() < 0.6 else int(u(35, 80)),
        "chroma_halved": bool(rng.random() < 0.75),
    }
    if rng.random() < (0.7 if family == "forum" else 0.16):
        style["shrink_to"] = int(np.exp(u(np.log(40), np.log(260))))
    if family == "forum":
        style["first_jpeg"] = int(u(30, 80))
    if family == "late phone":  # several exposures fused: flat light, then hard detail
        style |= {"local_lift": u(0.35, 0.6), "denoise": "both", "clarity": u(0.4, 0.9)}
    elif family == "old phone":  # small sensor: noise, smear and thick halos
        style |= {
            "noise": u(0.01, 0.045),
            "denoise": "median",
            "sharpen_width": u(1.3, 2.2),
            "saturation": u(0.7, 1.3),
        }
    elif family == "catalogue":
        style |= {"vignette": 0.0, "motion": 0.0}
    return {k: round(v, 4) if isinstance(v, float) else v for k, v in style.items()}


def _in_strips(work: Callable[..., Image], *images: Image) -> Image:
    """What ``work`` makes of pictures of one size, pixel by pixel: a few rows at a time, which stay in the cache."""
    rows = max(1, _STRIP_BYTES // images[0][0].nbytes)
    tops = range(0, len(images[0]), rows)
    return np.concatenate([work(*(image[top : top + rows] for image in images)) for top in tops])


def _blur(image: Image, sigma: float) -> Image:
    """Gaussian blur; a wide one is done on a smaller copy."""
    if sigma < 0.15:
        return image
    step = int(sigma / 2.5)
    if step < 2:
        return cv2.GaussianBlur(image, (0, 0), sigma)
    height, width = image.shape[:2]
    small_size = (max(1, round(width / step)), max(1, round(height / step)))
    small = cv2.resize(image, small_size, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), sigma / step)
    return cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR)


def _scale(image: Image) -> float:
    """Pixels for each pixel of a 256-pixel picture."""
    return float(max(image.shape[:2]) / 256)


def _luminance(image: Image) -> Image:
    return cv2.transform(image, _LUMA[None])


def _smoothed(render: Undeveloped, style: dict[str, Any]) -> Image:
    """Linear light without what is left of the renderer's grain, edges kept."""
    grain = render.grain
    style["grain"] = round(grain, 4)
    reach = float(np.clip((2.0 + 2.0 * style["clean"]) * grain, 0.03, 0.6))
    logs = cv2.bilateralFilter(render.logs, 7 if grain > 0.02 else 5, reach, 2.0)
    if grain > 0.03:
        logs = cv2.bilateralFilter(logs, 5, 0.6 * reach, 1.2)
    return _in_strips(lambda strip: np.maximum(cv2.exp(strip) - 0.02, 0), logs)


def _balanced(image: Image, rng: np.random.Generator, illuminant: NDArray[np.floating], style: dict[str, Any]) -> Image:
    """White balance as a phone guesses it from the light: not quite far enough, and a little off."""
    light = np.maximum(np.asarray(illuminant, np.float64), 1e-3)
    light = light / light.mean()
    error = rng.normal(0, [0.035, 0.015, 0.045])
    gain = light ** -style["balance_strength"] * np.exp(error)
    gain = gain / (gain * light ** style["balance_strength"]).mean()
    style["balance_error"] = [round(float(v), 4) for v in error]
    return np.asarray(image * gain.astype(np.float32))


def _exposed(image: Image, rng: np.random.Generator, style: dict[str, Any]) -> Image:
    """Meter the picture, the middle counting most, and miss by some EV."""
    _height, _width = image.shape[:2]
    small = cv2.resize(_luminance(image), (48, 48), interpolation=cv2.INTER_AREA)
    axis = (np.arange(48) - 23.5) / 48
    # some tap on the object to have it measured
    on_object = rng.random() < (0.4 if style["metered"] else 0.2)
    reach = rng.uniform(0.1, 0.2) if on_object else rng.uniform(0.2, 0.6)
    weight = np.exp(-(axis[:, None] ** 2 + axis[None] ** 2) / (2 * reach**2))
    weight /= weight.sum()
    key = float(np.exp((np.log(small + 1e-3) * weight).sum()))
    mean = float((np.minimum(small, np.percentile(small, 98)) * weight).sum()) + 1e-6
    share = rng.uniform(0, 0.25)
    # where most of the picture is about as bright as its brightest part, meters of today let it come out white
    alike = float((small > 0.5 * np.percentile(small, 97)).mean())
    target = _MIDDLE_GREY * (1 + style["high_key"] * np.clip((alike - 0.3) / 0.35, 0, 1))
    gain = target * 2 ** style["ev"] / (key**share * mean ** (1 - share))
    return image * np.float32(gain)


def _through_the_lens(image: Image, rng: np.random.Generator, style: dict[str, Any]) -> Image:
    """Glare, bloom, fall-off to the corners, shake and defocus."""
    scale = _scale(image)
    held = np.minimum(image, 12)
    bloom, glare = np.float32(style["bloom"]), np.float32(style["glare"])
    height, width = image.shape[:2]
    y = ((np.arange(height, dtype=np.float32) + 0.5) / height - 0.5)[:, None]
    x = ((np.arange(width, dtype=np.float32) + 0.5) / width - 0.5)[None]
    fall_off = (1 - np.float32(2 * style["vignette"]) * (x * x + y * y))[..., None]
    image = _in_strips(
        lambda pixels, near, far, left: (pixels * (1 - bloom - glare) + bloom * near + glare * far) * left,
        image,
        _blur(held, style["bloom_width"] * scale),
        _blur(held, 31 * scale),
        fall_off,
    )
    if style["motion"]:
        image = cv2.filter2D(image, -1, _streak(style["motion"] * scale, rng.uniform(0, np.pi)))
    if style["defocus"]:
        image = _blur(image, style["defocus"] * scale)
    return image


def _streak(length: float, angle: float) -> Image:
    """A blur kernel: an antialiased line through the middle, symmetric so that nothing shifts."""
    half = int(np.ceil(length / 2)) + 1
    steps = np.linspace(-length / 2, length / 2, 33)
    kernel = np.zeros((2 * half + 1,) * 2, np.float32)
    x, y = half + steps * np.cos(angle), half + steps * np.sin(angle)
    x0, y0 = np.floor(x).astype(int), np.floor(y).astype(int)
    for dy in (0, 1):
        for dx in (0, 1):
            share = (1 - np.abs(x - x0 - dx)) * (1 - np.abs(y - y0 - dy))
            np.add.at(kernel, (np.minimum(y0 + dy, 2 * half), np.minimum(x0 + dx, 2 * half)), share)
    return np.asarray(kernel / kernel.sum())


def _tone_mapped_locally(image: Image, style: dict[str, Any]) -> Image:
    """Lift dark regions and hold bright ones back, as phones do by fusing exposures."""
    lift = style["local_lift"]
    if lift < 0.02:
        return image
    logs = cv2.log(_luminance(image) + 0.004)
    base = _blur(logs, 13 * _scale(image))
    grey, lift = np.float32(np.log(_MIDDLE_GREY)), np.float32(lift)
    return _in_strips(
        lambda pixels, around: pixels * cv2.exp(np.clip((grey - around) * lift, -1.2, 1.0))[..., None], image, base
    )


def _sensed(image: Image, rng: np.random.Generator, style: dict[str, Any]) -> Image:
    """Photon and read noise, partly smeared in colour by the demosaicing."""
    level = style["noise"]
    if level < 0.002:
        return image
    height, width = image.shape[:2]
    fine: Image = rng.standard_normal((height, width, 3), dtype=np.float32)
    fine = cv2.GaussianBlur(fine, (0, 0), 0.55)
    coarse: Image = rng.standard_normal((height // 3 + 1, width // 3 + 1, 3), dtype=np.float32)
    coarse = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR)

    def noisy(pixels: Image, fine: Image, coarse: Image) -> Image:
        sigma = np.float32(level) * cv2.sqrt(np.clip(pixels, 0, 2) * np.float32(0.8) + np.float32(0.02))
        return np.asarray(np.maximum(pixels + sigma * (fine * np.float32(1.6) + np.float32(0.5) * coarse), 0))

    return _in_strips(noisy, image, fine, coarse)


def _curve(image: Image, style: dict[str, Any]) -> Image:
    """A film-like shoulder, then the sRGB transfer curve, through one table."""
    top = np.float32(16)
    grid = np.linspace(0, 1, 4096, dtype=np.float32) ** 3 * top
    value = grid * (1 + grid / style["white"] ** 2) / (1 + grid * style["shoulder"])
    value = value * (1 + 0.35 * style["shoulder"])
    value = np.clip(value, 0, 1)
    table = np.where(value <= 0.0031308, 12.92 * value, 1.055 * np.maximum(value, 1e-7) ** (1 / 2.4) - 0.055)
    table = table.astype(np.float32)

    def encoded(light: Image) -> Image:
        index = cv2.pow(np.clip(light, 0, top) / top, 1 / 3) * np.float32(4095)
        return np.take(table, (index + np.float32(0.5)).astype(np.int32))

    return _in_strips(encoded, image)


def _denoised(encoded: Image, style: dict[str, Any]) -> Image:
    """A phone's noise reduction: keeps edges, smears what is fine and faint."""
    kind, strength = style["denoise"], style["denoise_strength"]
    if kind in ("median", "both"):
        share = np.float32(min(1.0, 0.4 + 0.6 * strength))
        middle = cv2.medianBlur(encoded, 3)
        encoded = _in_strips(lambda pixels, around: pixels * (1 - share) + around * share, encoded, middle)
    if kind in ("bilateral", "both"):
        reach = 0.02 + 0.05 * strength + 0.8 * style["noise"]
        encoded = cv2.bilateralFilter(encoded, 5, reach, 1.0 + 1.5 * strength)
    if kind != "none":  # colour noise goes first, and with it fine colour
        grey = _luminance(encoded)[..., None]
        encoded = grey + _blur(encoded - grey, (0.6 + strength) * _scale(encoded) ** 0.5)
    return encoded


def _resampled(encoded: Image, rng: np.random.Generator, style: dict[str, Any]) -> Image:
    """Sometimes the object was small in the photo and has been enlarged."""
    target = style["shrink_to"]
    height, width = encoded.shape[:2]
    if not target or target >= width:
        style["shrink_to"] = 0
        return encoded
    small = cv2.resize(encoded, (target, max(8, round(target * height / width))), interpolation=cv2.INTER_AREA)
    small = np.clip(small, 0, 1)
    # enlarged pictures are seldom sharpened again: that would only draw rings
    style |= {key: round(style[key] * 0.3, 4) for key in ("sharpen", "clarity", "equalise")}
    if rng.random() < 0.5:
        small = np.clip(small + (small - cv2.GaussianBlur(small, (0, 0), 0.8)) * np.float32(rng.uniform(0.2, 1)), 0, 1)
    if rng.random() < 0.5:
        bytes_ = (small * 255 + 0.5).astype(np.uint8)
        small = jpeg(bytes_, int(rng.uniform(40, 90)), True).astype(np.float32) / 255
    how = int(rng.choice([cv2.INTER_LINEAR, cv2.INTER_CUBIC, cv2.INTER_LANCZOS4]))
    return np.asarray(np.clip(cv2.resize(small, (width, height), interpolation=how), 0, 1))


def _sharpened(encoded: Image, style: dict[str, Any]) -> Image:
    """Unsharp masks, narrow (detail, with halos up to a limit) and wide (local contrast), on brightness alone."""
    scale = _scale(encoded) ** 0.5
    light = _luminance(encoded)
    detail = (light - _blur(light, style["sharpen_width"] * scale)) * np.float32(style["sharpen"])
    limit = np.float32(style["halo_limit"])
    change = limit * np.tanh(detail / limit)
    if style["clarity"]:
        wide = light - _blur(light, style["clarity_width"] * _scale(encoded))
        change = change + np.float32(0.5 * style["clarity"]) * wide
    if style["equalise"]:
        bytes_ = np.clip(light * 255, 0, 255).astype(np.uint8)
        equalised = cv2.createCLAHE(2.0, (4, 4)).apply(bytes_).astype(np.float32) / 255
        change = change + np.float32(style["equalise"]) * (equalised - light)
    return np.asarray(encoded + change[..., None])


def _graded(encoded: Image, style: dict[str, Any]) -> Image:
    """Contrast, saturation, black point, and colour fringes that grow towards the corners."""
    if style["stretch"]:  # whites are pulled up to white
        top = float(np.percentile(_luminance(encoded)[::3, ::3], 98.5))
        encoded = encoded * np.float32(np.clip(0.97 / max(top, 0.1), 0.85, 1.3) ** style["stretch"])
    bend, saturation, black = (np.float32(style[key]) for key in ("contrast", "saturation", "black"))

    def graded(pixels: Image) -> Image:
        pixels = np.clip(pixels, 0, 1)
        pixels = pixels * (1 - bend) + bend * (pixels * pixels * (3 - 2 * pixels))
        grey = _luminance(pixels)[..., None]
        return (grey + (pixels - grey) * saturation) * (1 - black) + black

    encoded = _in_strips(graded, encoded)
    return _fringed(encoded, style["fringe"]) if style["fringe"] else encoded


def _fringed(encoded: Image, corner_pixels: float) -> Image:
    """Red a little larger and blue a little smaller than green, by less than a pixel in the corner."""
    height, width = encoded.shape[:2]
    out = np.ascontiguousarray(encoded)
    for channel, sign in ((0, 1.0), (2, -1.0)):
        size = 1 + sign * corner_pixels / (0.5 * np.hypot(height, width))
        matrix = np.array([[size, 0, (1 - size) * (width - 1) / 2], [0, size, (1 - size) * (height - 1) / 2]])
        out[..., channel] = cv2.warpAffine(
            encoded[..., channel],
            matrix,
            (width, height),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    return out


def jpeg(picture: NDArray[np.uint8], quality: int, chroma_halved: bool) -> NDArray[np.uint8]:
    """An sRGB picture (h, w, 3) as it is after JPEG compression."""
    sampling = cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420 if chroma_halved else cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444
    options = [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, sampling]
    done, coded = cv2.imencode(".jpg", picture[..., ::-1], options)
    if not done:
        raise RuntimeError("OpenCV could not write a JPEG; reinstall opencv-python-headless")
    back = cv2.imdecode(coded, cv2.IMREAD_COLOR)
    if back is None:
        raise RuntimeError("OpenCV could not read its own JPEG; reinstall opencv-python-headless")
    return np.ascontiguousarray(back[..., ::-1]).astype(np.uint8)


def _compressed(picture: NDArray[np.uint8], style: dict[str, Any]) -> NDArray[np.uint8]:
    """Saved once, perhaps saved before by somebody else."""
    if style["first_jpeg"]:
        picture = jpeg(picture, style["first_jpeg"], True)
    return jpeg(picture, style["jpeg_quality"], style["chroma_halved"])
