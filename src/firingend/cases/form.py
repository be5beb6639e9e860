"""The shape of a case file as pydantic models: which keys there are and what each may hold."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from firingend.cases.case import DEFAULT_SURENESS
from firingend.diagnosis.evidence import HowRun
from firingend.engine.engine import FuelSystem, Ignition, Layout, SharedKind

Text = Annotated[str, Field(min_length=1)]
End = Literal["left", "right", "top", "bottom"]


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class SharedForm(_Form):
    """``[[engine.shared]]``: one part that several cylinders share."""

    kind: SharedKind
    name: Text
    cylinders: list[int]


class EngineForm(_Form):
    """``[engine]``: the engine, with the trade's defaults for what is left out."""

    name: Text = "engine"
    cylinders: int | list[int]
    layout: Layout | None = None
    strokes: Literal[2, 4] = 4
    fuel_system: FuelSystem = "port-injection"
    ignition: Ignition = "coil-per-plug"
    firing_order: list[int] = []
    banks: dict[str, list[int]] = {}
    shared: list[SharedForm] = []
    one_each: list[SharedKind] = []
    aircraft: bool = False


class RunForm(_Form):
    """``[run]``: how the engine was run before the plugs came out."""

    before: HowRun = "unknown"
    minutes_on_plugs: Annotated[float, Field(ge=0)] | None = None
    fuel: str = ""


class PhotoForm(_Form):
    """``[[photos]]``: one photograph of several plugs in a row."""

    file: Text
    first: End = "left"
    cylinders: list[int] = []


class PlugForm(_Form):
    """A plug under ``[plugs]`` that needs more than a file name or a label."""

    photo: Text | None = None
    label: Text | None = None
    sure: Annotated[float, Field(ge=0.2, le=1)] = DEFAULT_SURENESS
    signs: list[str] = []


class OutcomeForm(_Form):
    """``[[outcomes]]``: what one check gave."""

    check: Text
    where: Text | None = None
    cylinder: int | None = None
    outcome: Text


class MeasurementForm(_Form):
    """``[[measurements]]``: one number taken."""

    what: Text
    where: Text | None = None
    cylinder: int | None = None
    value: float
    unit: str
    condition: str = ""


class CostsForm(_Form):
    """``[costs]``: what work costs."""

    rate_per_hour: Annotated[float, Field(ge=0)] = 60.0
    currency: Annotated[str, Field(pattern="^[A-Z]{3}$")] = "EUR"


class CaseForm(_Form):
    """A whole case file."""

    name: Text = "case"
    complaint: str = ""
    engine: EngineForm
    run: RunForm = RunForm()
    symptoms: dict[str, Literal["present", "absent"]] = {}
    photos: list[PhotoForm] = []
    plugs: dict[str, str | PlugForm] = {}
    outcomes: list[OutcomeForm] = []
    measurements: list[MeasurementForm] = []
    costs: CostsForm = CostsForm()
