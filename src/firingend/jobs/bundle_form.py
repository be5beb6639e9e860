"""What stands in ``job.json`` of a bundle: one job with its whole history."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, TypeAdapter

from firingend.jobs.card import MANY, SHA256, SINGLE

VERSION: Final = 1
"""Version of the format; a reader refuses a newer one."""

MOST_CHANGES: Final = 100_000
MOST_PHOTOS: Final = 1_000

LARGEST_CARD: Final = 64 << 20
LARGEST_BUNDLE: Final = 4 << 30
"""Bytes unpacked: ``job.json`` or one report; everything together."""

_KEYS: Final = "[A-Za-z0-9][A-Za-z0-9_-]{0,79}"


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class EditForm(_Form):
    """One field of the card before and after; null where it was or is not there."""

    path: Annotated[str, Field(max_length=120)]
    before: Any
    after: Any


class ChangeForm(_Form):
    """One step in the life of the card."""

    revision: Annotated[int, Field(ge=1)]
    at: AwareDatetime
    who: Annotated[str, Field(max_length=200)]
    what: Annotated[str, Field(max_length=1000)]
    undoes: Annotated[int, Field(ge=1)] | None
    edits: Annotated[list[EditForm], Field(max_length=10_000)]


class PhotoForm(_Form):
    """One photograph: the hash of what lies in the bundle, and of the original it was taken from."""

    sha256: Annotated[str, Field(pattern=SHA256)]
    suffix: Literal[".jpg", ".png"]
    bytes: Annotated[int, Field(ge=0)]
    original_sha256: Annotated[str, Field(pattern=SHA256)]
    absent: bool


class JobForm(_Form):
    """What a job is called: the same id wherever it goes, and the number it had where it came from."""

    id: Annotated[str, Field(pattern="^[0-9a-f]{32}$")]
    number: Annotated[int, Field(ge=1)]


class BundleForm(_Form):
    """A whole ``job.json``."""

    format: Literal["firingend-job"]
    version: Annotated[int, Field(ge=1)]
    made_by: Annotated[str, Field(max_length=100)]
    made_at: AwareDatetime
    job: JobForm
    fields: dict[str, Any]
    changes: Annotated[list[ChangeForm], Field(min_length=1, max_length=MOST_CHANGES)]
    photos: Annotated[list[PhotoForm], Field(max_length=MOST_PHOTOS)]


def bundle_schema() -> dict[str, Any]:
    """The JSON Schema of ``job.json``; what is published in ``firingend/schemas`` is this."""
    schema = BundleForm.model_json_schema()
    definitions: dict[str, Any] = schema["$defs"]
    singles = {name: _schema_of(kind, definitions) for name, kind in SINGLE.items()}
    many = {f"^{name}/{_KEYS}$": _schema_of(kind, definitions) for name, kind in MANY.items()}
    schema["properties"]["fields"] = {
        "type": "object",
        "description": "The card as it is after the last change, by path",
        "properties": singles,
        "patternProperties": many,
        "additionalProperties": False,
    }
    schema["properties"]["version"]["maximum"] = VERSION
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:firingend:schema:bundle:{VERSION}",
        **schema,
        "title": "job.json of a firingend job bundle",
    }


def _schema_of(kind: Any, definitions: dict[str, Any]) -> dict[str, Any]:  # noqa: ANN401
    schema = TypeAdapter(kind).json_schema()
    definitions.update(schema.pop("$defs", {}))
    return schema
