"""A query as one statement that goes by the indexes, newest jobs first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import ColumnElement, Select, exists, select

from firingend.jobs import tables
from firingend.jobs.job import Query
from firingend.jobs.rows import stamp
from firingend.jobs.search_terms import folded, words

_LAST = "\U0010ffff"


def matching(query: Query, columns: Sequence[Any]) -> Select[Any]:
    """The statement for a query."""
    jobs = tables.jobs
    conditions: list[ColumnElement[bool]] = [_begins(word) for word in words(query.words)]
    for kind, said in (
        ("engine", query.engine),
        ("mark", query.mark),
        ("customer", query.customer),
        ("label", query.label),
        ("cause", query.cause),
    ):
        if said:
            conditions.append(_has(kind, folded(said)))
    if query.status:
        conditions.append(jobs.c.status == query.status)
    if query.opened_from:
        conditions.append(jobs.c.opened_at >= stamp(query.opened_from))
    if query.opened_before:
        conditions.append(jobs.c.opened_at < stamp(query.opened_before))
    if query.before_number is not None:
        conditions.append(jobs.c.number < query.before_number)
    return select(*columns).where(*conditions).order_by(jobs.c.number.desc()).limit(query.most)


def _has(kind: str, value: str) -> ColumnElement[bool]:
    terms = tables.terms
    return exists().where(terms.c.kind == kind, terms.c.value == value, terms.c.number == tables.jobs.c.number)


def _begins(word: str) -> ColumnElement[bool]:
    terms = tables.terms
    found = select(terms.c.number).where(terms.c.kind == "word", terms.c.value >= word, terms.c.value < word + _LAST)
    return tables.jobs.c.number.in_(found)
