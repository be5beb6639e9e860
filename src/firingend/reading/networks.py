"""The trained networks on disk: what the file beside each one must say, and opening them.

Only ONNX is ever loaded, and only when its SHA-256 is the one stated beside it.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import Annotated, Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from firingend.errors import UserError
from firingend.labels import CERAMIC, LABELS
from firingend.reading.calibration import Calibration
from firingend.reading.nose_colour import TERMS

THREADS_VARIABLE: Final = "FIRINGEND_THREADS"
"""Environment variable that sets how many CPU threads a network may use; 1 without it."""

_REMEDY: Final = "install the program again, or copy the network and the .json beside it from one export"

Probability = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]


class _Card(BaseModel):
    """What the file beside every network says; other keys may be there and are left alone."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    version: str
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


CardT = TypeVar("CardT", bound=_Card)


class Keeping(BaseModel):
    """Which finds stay in a photograph's reading (`keeping.kept_and_left_out`); scores are the finder's.

    ``surely_no_plug``: probability of being no plug above which a find is surely none. ``sure_score``: score from
    which a find stays although it, like all others of the photograph, is surely no plug. ``weak_score``: a find below
    it is weak, and stays only with a probability of being no plug of at most ``weak_no_plug``, or as one of a row.
    ``odd_score``: a find below it stays only with a size of at most ``odd_size`` times that of the plugs beside it,
    and at least one part in as many of it.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    surely_no_plug: Probability = 0.95
    sure_score: Probability = 0.5
    weak_score: Probability = 0.3
    weak_no_plug: Probability = 0.1
    odd_score: Probability = 0.34
    odd_size: Annotated[float, Field(ge=1, allow_inf_nan=False)] = 1.3


class FinderCard(_Card):
    """Settings of the finder (``finder.json``).

    ``long_side``: px of the picture's long side as the network sees it. ``multiple``: what height and width are
    padded up to a multiple of. ``score_min``: least score of a firing end. ``iou_max``: of two boxes that
    overlap by more than this, the weaker goes.

    A photograph of one plug from close by needs no fine look. With ``glance_side`` above 0 the picture is first
    looked at that many px long, and if there is one firing end with a score of ``glance_score`` and a box of at
    least ``glance_share`` of the picture's long side, that is the answer.

    ``keeping``: which of the finds stay once they are read.
    """

    long_side: Annotated[int, Field(ge=32, le=4096)]
    multiple: Annotated[int, Field(ge=4, le=256, multiple_of=4)] = 32
    score_min: Probability
    iou_max: Probability
    glance_side: Annotated[int, Field(ge=0, le=4096)] = 0
    glance_score: Probability = 0.6
    glance_share: Probability = 0.35
    keeping: Keeping = Field(default_factory=Keeping)


class SmallEnds(BaseModel):
    """When a firing end smaller than ``min_box_px`` is given a label all the same.

    ``least_box_px``: least longer side of its box. ``label``: least probability of the label.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    least_box_px: Annotated[float, Field(ge=0)]
    label: Probability


class Thresholds(BaseModel):
    """When a reading is refused.

    ``label``: least probability of the best label. ``unused``, ``not_a_plug``: probability from which the end is
    taken for one. ``min_box_px``: least longer side of the box in the full-scale photograph, but for ``small``.
    ``min_focus``: least variance of the Laplacian of the crop. ``find_score``: least score of the find.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    label: Probability
    unused: Probability
    not_a_plug: Probability
    min_box_px: Annotated[float, Field(ge=0)]
    min_focus: Annotated[float, Field(ge=0)]
    small: SmallEnds | None = None
    find_score: Probability = 0.0


class ColourSay(BaseModel):
    """What the measured colour of a nose has to say (`nose_colour`).

    ``weight``: of its say among the dry labels. ``coefficients``: of `nose_colour.terms`, for each of ``CERAMIC``.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    weight: Probability
    coefficients: dict[str, Annotated[list[Finite], Field(min_length=TERMS, max_length=TERMS)]]

    @field_validator("coefficients")
    @classmethod
    def _names_every_ceramic(cls, coefficients: dict[str, list[float]]) -> dict[str, list[float]]:
        if set(coefficients) != set(CERAMIC):
            raise ValueError(f"must name each of {', '.join(CERAMIC)} once")
        return coefficients


class ReaderCard(_Card):
    """Settings of the reader (``reader.json``).

    ``input_size``: side of a crop, px. ``crop_margin``: as in `crop.crop_matrix`. The rest as in `Calibration`
    and `Thresholds`; ``temperature`` has a key for each output that has one. ``conformal``: the limit of
    `conformal.conformal_limit` by the share of misses it was fitted for, such as ``"0.1"``. ``colour``: without it
    the network's word is taken alone.
    """

    input_size: Annotated[int, Field(ge=16, le=1024)]
    crop_margin: Positive
    temperature: dict[str, Positive]
    blend: Probability
    prior_train: dict[str, Positive]
    prior: dict[str, Positive]
    thresholds: Thresholds
    conformal: dict[str, Probability] = Field(default_factory=dict)
    colour: ColourSay | None = None

    @field_validator("prior_train", "prior")
    @classmethod
    def _names_every_label(cls, prior: dict[str, float]) -> dict[str, float]:
        if set(prior) != set(LABELS):
            raise ValueError(f"must name each of {', '.join(LABELS)} once")
        if abs(sum(prior.values()) - 1) > 1e-3:
            raise ValueError("must sum to 1")
        return prior

    def calibration(self) -> Calibration:
        """The part of the card that `probabilities.combine` needs."""
        return Calibration(self.temperature, self.blend, self.prior_train, self.prior)


def read_card(path: Path, kind: type[CardT]) -> CardT:
    """Read and check the file beside a network.

    Raises
    ------
    UserError
        When it is missing or does not say what it must; names the key.
    """
    try:
        return kind.model_validate_json(path.read_bytes())
    except OSError as error:
        raise UserError(f"{path} cannot be opened ({error.strerror})", _REMEDY) from None
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(map(str, first["loc"]))
        raise UserError(f"{path}: {key or 'the file'}: {first['msg']}", _REMEDY) from None


class Network:
    """One ONNX network, opened by ONNX Runtime on the CPU.

    Parameters
    ----------
    path
        The ``.onnx`` file.
    sha256
        What its SHA-256 must be, in lower-case hexadecimal.
    threads
        CPU threads for one inference; None takes ``FIRINGEND_THREADS``, or 1.

    Raises
    ------
    UserError
        When the file is missing, is another one than stated, or is no network.
    """

    def __init__(self, path: Path, sha256: str, threads: int | None = None) -> None:
        content = _read_stated(path, sha256)
        self._session = _open_session(path, content, thread_count(threads))
        self._outputs = [output.name for output in self._session.get_outputs()]

    def run(self, **inputs: NDArray[np.float32]) -> dict[str, NDArray[np.float32]]:
        """Outputs by name for these inputs by name."""
        return dict(zip(self._outputs, self._session.run(self._outputs, inputs), strict=True))


def normalise(pixels: NDArray[np.uint8], out: NDArray[np.float32] | None = None) -> NDArray[np.float32]:
    """Pixels (..., height, width, 3) as the networks take them: (..., 3, height, width), (x - 127) / 128.

    Written to ``out`` where that is given.
    """
    planes = np.moveaxis(pixels, -1, -3)
    out = np.empty(planes.shape, np.float32) if out is None else out
    np.copyto(out, planes)
    out -= 127
    out *= 1 / 128
    return out


def thread_count(asked: int | None) -> int:
    """CPU threads to use: the argument, else ``FIRINGEND_THREADS``, else 1."""
    if asked is not None:
        return max(1, asked)
    text = os.environ.get(THREADS_VARIABLE, "1")
    if not text.isdecimal() or int(text) < 1:
        raise UserError(f"{THREADS_VARIABLE} is {text!r}", "set it to a whole number from 1 up")
    return int(text)


def _read_stated(path: Path, sha256: str) -> bytes:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise UserError(f"{path} cannot be opened ({error.strerror})", _REMEDY) from None
    if hashlib.sha256(content).hexdigest() != sha256:
        raise UserError(f"{path} is not the network that the .json beside it describes (SHA-256 differs)", _REMEDY)
    return content


def _open_session(path: Path, content: bytes, threads: int) -> Any:  # noqa: ANN401 - ONNX Runtime has no types
    import onnxruntime  # here and not above: it takes a tenth of a second, and a case may hold no photographs

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    options.log_severity_level = 3  # errors only: its warnings are about graph optimisation
    try:
        return onnxruntime.InferenceSession(content, options, providers=["CPUExecutionProvider"])
    except Exception as error:  # its exceptions share no base class
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise UserError(f"{path} is not a network this program can run ({reason})", _REMEDY) from error
