"""A query as one statement that goes by the indexes, newest jobs first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import ColumnElement, FromClause, Select, exists, func, select

from firingend.jobs import tables
from firingend.jobs.job import Query
from firingend.jobs.rows import stamp
from firingend.jobs.search_terms import folded, words

_LAST = "\U0010ffff"


def matching(query: Query, columns: Sequence[Any]) -> Select[Any]:
    """The statement for a query.

    One criterion leads: its entries in the index are gone through from the newest job on, and each job is looked up
    by the other criteria until the list is full. So neither a rare word nor a common one costs more in a large store.
    """
    jobs, terms = tables.jobs, tables.terms
    whole = _whole_terms(query)
    parts = sorted(words(query.words), key=len)
    statement = select(*columns)
    newest = jobs.c.number
    if whole:
        # The one likeliest to be rare leads.
        kind, value = whole.pop(0)
        statement = statement.join(terms, terms.c.number == jobs.c.number)
        statement = statement.where(terms.c.kind == kind, terms.c.value == value)
        newest = terms.c.number
    elif parts:
        longest = parts.pop()
        statement = statement.where(jobs.c.number.in_(select(terms.c.number).where(*_begins(terms, longest))))
    statement = statement.where(
        *(_has(kind, value) for kind, value in whole), *(_has_word(part) for part in parts), *_plain(query)
    )
    return statement.order_by(newest.desc()).limit(query.most)


def _whole_terms(query: Query) -> list[tuple[str, str]]:
    """Criteria that name the whole of a term, rarest kind first."""
    said = (
        ("mark", query.mark),
        ("customer", query.customer),
        ("engine", query.engine),
        ("cause", query.cause),
        ("label", query.label),
    )
    return [(kind, folded(text)) for kind, text in said if text]


def _plain(query: Query) -> Iterator[ColumnElement[bool]]:
    jobs = tables.jobs
    if query.status and (_whole_terms(query) or query.words):
        # As an expression: the index by state would lead, and every job in that state be sorted.
        yield func.coalesce(jobs.c.status, "") == query.status
    elif query.status:
        yield jobs.c.status == query.status
    if query.opened_from:
        yield jobs.c.opened_at >= stamp(query.opened_from)
    if query.opened_before:
        yield jobs.c.opened_at < stamp(query.opened_before)
    if query.before_number is not None:
        yield jobs.c.number < query.before_number


def _has(kind: str, value: str) -> ColumnElement[bool]:
    other = tables.terms.alias()
    return exists().where(other.c.number == tables.jobs.c.number, other.c.kind == kind, other.c.value == value)


def _has_word(part: str) -> ColumnElement[bool]:
    other = tables.terms.alias()
    return exists().where(other.c.number == tables.jobs.c.number, *_begins(other, part))


def _begins(terms: FromClause, part: str) -> tuple[ColumnElement[bool], ...]:
    return terms.c.kind == "word", terms.c.value >= part, terms.c.value < part + _LAST
