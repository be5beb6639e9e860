"""A set of rendered pictures: ``truth.jsonl`` with one picture a line, as the renderer writes it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from firingend.evaluation.photo_set import TRUTHS, Nuisance, PhotoSet, SetError, TruePicture, TruePlug

FEWEST_NOSE_PIXELS: Final = 25
"""With less of the nose to see, nobody could read the plug: it counts for the finder alone."""

LEAST_VISIBLE: Final = 16.0
"""Longer side of the box, in pixels the picture really has (before it was enlarged), from which a person makes out
that there is a firing end. Set by eye on this project's renders: at 18 pixels all of a row are seen, at 9 nobody can
tell which end of the plug is which. Common practice has no number for it."""

_REMEDY: Final = "render the set again, or delete the line"


class _Plug(BaseModel):
    model_config = ConfigDict(extra="ignore")

    label: str
    box: tuple[float, float, float, float]
    view_degrees: float
    nose_pixels: int
    severity: float = 0.0
    signs: dict[str, float] = Field(default_factory=dict)
    shape: dict[str, Any] = Field(default_factory=dict)
    readable: bool | None = None

    def counts(self) -> bool:
        """Whether anybody could read it: as the renderer told, or, where it did not, by the nose in sight."""
        return self.nose_pixels >= FEWEST_NOSE_PIXELS if self.readable is None else self.readable

    def visible(self, kept: float) -> bool:
        """Whether anybody could make it out in a picture that kept this share of its pixels a side."""
        x0, y0, x1, y1 = self.box
        return max(x1 - x0, y1 - y0) * kept >= LEAST_VISIBLE


class _Picture(BaseModel):
    model_config = ConfigDict(extra="ignore")

    file: str
    scene: int
    kind: str
    height: int = 0
    plugs: tuple[_Plug, ...]
    nuisance: dict[str, Any] = Field(default_factory=dict)

    def kept(self) -> float:
        """Share of its pixels a side that is left of a picture shrunk and enlarged again, up to 1."""
        shrunk = self.nuisance.get("shrink_to")
        if not isinstance(shrunk, int | float) or shrunk <= 0 or self.height <= 0:
            return 1.0
        return min(1.0, shrunk / self.height)


def load_rendered(path: Path) -> PhotoSet:
    """Read a rendered set by its ``truth.jsonl``.

    Raises
    ------
    SetError
        Names the line and key.
    """
    pictures = []
    try:
        with path.open(encoding="utf-8") as lines:
            for number, line in enumerate(lines, 1):
                if line.strip():
                    pictures.append(_picture(line, path, number))
    except (OSError, UnicodeDecodeError) as error:
        raise SetError(f"{path} cannot be read ({error})", "check the name") from None
    pictures.sort(key=lambda picture: picture.file)
    return PhotoSet(path.resolve().parent.name, "rendered", tuple(pictures))


def _picture(line: str, path: Path, number: int) -> TruePicture:
    try:
        raw = _Picture.model_validate_json(line)
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(map(str, first["loc"])) or "the line"
        raise SetError(f"{path} line {number}: {key}: {first['msg']}", _REMEDY) from None
    for plug in raw.plugs:
        if plug.label not in TRUTHS:
            raise SetError(f"{path} line {number}: label {plug.label!r} is not known", _REMEDY)
    kept = raw.kept()
    plugs = tuple(TruePlug(p.label, p.box, p.counts(), p.visible(kept), _plug_nuisance(p)) for p in raw.plugs)
    nuisance = {"kind": raw.kind, **_plain(raw.nuisance)}
    return TruePicture(path.parent / raw.file, str(raw.scene), plugs, nuisance)


def _plug_nuisance(plug: _Plug) -> Nuisance:
    signs = tuple(sorted(sign for sign, strength in plug.signs.items() if strength > 0))
    return {
        "view_degrees": plug.view_degrees,
        "severity": plug.severity,
        **({"signs": signs} if signs else {}),
        **_plain(plug.shape),
    }


def _plain(facts: Mapping[str, Any]) -> Nuisance:
    """Numbers as numbers, words and yes/no as words; anything nested is left out."""
    plain: dict[str, float | str | tuple[str, ...]] = {}
    for name, value in facts.items():
        if isinstance(value, bool):
            plain[name] = "yes" if value else "no"
        elif isinstance(value, int | float):
            plain[name] = float(value)
        elif isinstance(value, str):
            plain[name] = value
    return plain
