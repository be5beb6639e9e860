"""The library as the viewer uses it; imported room by room when needed, so that the window comes up at once."""

from __future__ import annotations

import re
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firingend.engine.engine import Engine
from firingend.errors import UserError
from firingend.reading.reading import Box, PhotoReading
from firingend_gui.services import Assessment, Choice, EngineEntry, OpenedCase, PlacedPhoto
from firingend_gui.session import Session

REPAIR_OUTCOMES = (
    Choice("cured", "it runs right now"),
    Choice("better", "better, not right"),
    Choice("no-change", "no change"),
)
"""What trying a repair can show; the ids are those of ``diagnosis.evidence.Outcome``."""


class Library:
    """Answers every call of `firingend_gui.services.Services` with the library's own functions."""

    def read_photo(self, file: Path) -> PhotoReading:
        """Read every firing end in a photograph with the shipped networks."""
        from firingend.reading.reader import read_photo

        return read_photo(file)

    def pixels(self, file: Path, box: Box | None, longest: int) -> NDArray[np.uint8]:
        """Decode a photograph only as finely as the piece of it needs."""
        from firingend.photo.load import load_picture

        if box is None:
            picture = load_picture(file, min_side=longest)
            return _shrunk(picture.pixels, longest)
        # How finely to decode depends on the photograph's size, which a coarse decode tells at little cost.
        coarse = load_picture(file, min_side=512)
        share = (box[2] - box[0]) / max(coarse.full_width, coarse.full_height)
        picture = load_picture(file, min_side=round(longest / max(share, 0.01)))
        width, height = picture.size
        x0, x1 = _inside(round(box[0] * picture.scale), round(box[2] * picture.scale), width)
        y0, y1 = _inside(round(box[1] * picture.scale), round(box[3] * picture.scale), height)
        return _shrunk(picture.pixels[y0:y1, x0:x1], longest)

    def build_engine(self, entry: EngineEntry) -> Engine:
        """Turn the form into an engine, with the trade's defaults for what the form does not ask."""
        from firingend.engine.build import build_engine

        return build_engine(
            entry.cylinders,
            name=entry.name or "engine",
            layout=entry.layout,
            strokes=entry.strokes,
            fuel_system=entry.fuel_system,
            ignition=entry.ignition,
            firing_order=firing_order(entry.firing_order),
        )

    def symptoms(self) -> tuple[Choice, ...]:
        """Symptoms of the shipped knowledge, by name."""
        from firingend.diagnosis.knowledge import load

        return tuple(Choice(s.id, s.name) for s in sorted(load().symptoms.values(), key=lambda s: s.name))

    def assess(self, session: Session) -> Assessment:
        """Compare the cylinders and rank causes and checks."""
        from firingend.cases.run import assess
        from firingend.diagnosis.knowledge import load
        from firingend_gui.casework import case_and_photos

        case, photos = case_and_photos(session)
        result = assess(case, photos)
        checks = load().checks
        outcomes = {
            step.id: tuple(Choice(i, words) for i, words in checks[step.id].outcomes.items())
            if step.id in checks
            else REPAIR_OUTCOMES
            for step in result.diagnosis.next
            if step.kind != "hand-over"
        }
        return Assessment(result.comparison, result.diagnosis, MappingProxyType(outcomes), result)

    def open_case(self, file: Path) -> OpenedCase:
        """Load a case file."""
        from firingend.cases.load import load_case
        from firingend.diagnosis.knowledge import load
        from firingend_gui.casework import session_of

        case = load_case(file)
        placed = tuple(PlacedPhoto(photo.file, photo.cylinders) for photo in case.photos)
        return OpenedCase(session_of(case, load()), placed)

    def save_case(self, session: Session, file: Path) -> None:
        """Write the session as a case file."""
        from firingend.cases.write import case_text
        from firingend.report.files import write_whole
        from firingend_gui.casework import case_of

        write_whole(file, case_text(case_of(session), file.parent).encode("utf-8"))

    def save_report(self, session: Session, assessment: Assessment, file: Path) -> None:
        """Write the report as HTML or PDF."""
        ending = file.suffix.lower()
        result: Any = assessment.result
        if ending == ".pdf":
            from firingend.report.pdf import write_pdf

            write_pdf(result, file)
        elif ending in (".html", ".htm"):
            from firingend.report.html import write_html

            write_html(result, file)
        else:
            raise UserError(f"{file.name} is neither HTML nor PDF", "give it a name that ends in .html or .pdf")


def firing_order(text: str) -> tuple[int, ...]:
    """Numbers of a firing order as one writes it.

    Examples
    --------
    >>> firing_order("1-3-4-2"), firing_order("1, 3, 2"), firing_order("")
    ((1, 3, 4, 2), (1, 3, 2), ())
    """
    if re.search(r"[^\d\s,;.–-]", text):
        raise UserError(f'the firing order "{text}" is not a row of numbers', "write it like 1-3-4-2, or leave it out")
    return tuple(int(n) for n in re.findall(r"\d+", text))


def _inside(start: int, end: int, limit: int) -> tuple[int, int]:
    """Move an interval into 0..limit, or shorten it to that where there is no room for it.

    Examples
    --------
    >>> _inside(-5, 15, 100), _inside(90, 110, 100), _inside(-5, 120, 100)
    ((0, 20), (80, 100), (0, 100))
    """
    if end - start >= limit:
        return 0, limit
    shift = max(0, -start) - max(0, end - limit)
    return start + shift, end + shift


def _shrunk(pixels: NDArray[np.uint8], longest: int) -> NDArray[np.uint8]:
    """Make a picture at most this long on its longer side."""
    from PIL import Image

    height, width = pixels.shape[:2]
    factor = longest / max(height, width)
    if factor >= 1.0:
        return pixels
    size = (max(1, round(width * factor)), max(1, round(height * factor)))
    return np.asarray(Image.fromarray(pixels).resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0))
