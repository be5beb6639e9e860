"""A query as one statement that goes by the indexes, newest jobs first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import ColumnElement, FromClause, Select, exists, func, select

from firingend.jobs import tables
from firingend.jobs.job import Query
from firingend.jobs.rows import first_sort_key
from firingend.jobs.search_terms import folded, words

_LAST = "\U0010ffff"
_AFTER_ALL = 2**63 - 1


def matching(query: Query, columns: Sequence[Any]) -> Select[Any]:
    """The statement for a query.

    One criterion leads: its entries in the index are gone through from the newest job on, within the dates asked for,
    and each job is looked up by the other criteria until the list is full. So neither a rare word nor a common one,
    neither today nor a day of long ago costs more in a large store.
    """
    jobs, terms = tables.jobs, tables.terms
    whole = _whole_terms(query)
    parts = sorted(words(query.words), key=len)
    statement = select(*columns)
    newest = jobs.c.sort_key
    if whole:
        # The one likeliest to be rare leads.
        kind, value = whole.pop(0)
        statement = statement.join(terms, terms.c.sort_key == jobs.c.sort_key)
        statement = statement.where(terms.c.kind == kind, terms.c.value == value)
        newest = terms.c.sort_key
    elif parts:
        found = select(terms.c.sort_key).where(*_begins(terms, parts.pop()), *_within(query, terms.c.sort_key))
        statement = statement.where(jobs.c.sort_key.in_(found))
    statement = statement.where(
        *(_has(kind, value) for kind, value in whole),
        *(_has_word(part) for part in parts),
        *_in_state(query),
        *_within(query, newest),
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


def _in_state(query: Query) -> Iterator[ColumnElement[bool]]:
    jobs = tables.jobs
    if query.status and (_whole_terms(query) or query.words):
        # As an expression: the index by state would lead, and every job in that state be sorted.
        yield func.coalesce(jobs.c.status, "") == query.status
    elif query.status:
        yield jobs.c.status == query.status


def _within(query: Query, sort_key: ColumnElement[int]) -> Iterator[ColumnElement[bool]]:
    """Between the dates, and after the job that the last page ended with."""
    if query.opened_from:
        yield sort_key >= first_sort_key(query.opened_from)
    if query.opened_before:
        yield sort_key < first_sort_key(query.opened_before)
    if query.before_number is not None:
        other = tables.jobs.alias()
        last = select(other.c.sort_key).where(other.c.number == query.before_number).scalar_subquery()
        yield sort_key < func.coalesce(last, _AFTER_ALL)


def _has(kind: str, value: str) -> ColumnElement[bool]:
    other = tables.terms.alias()
    return exists().where(other.c.sort_key == tables.jobs.c.sort_key, other.c.kind == kind, other.c.value == value)


def _has_word(part: str) -> ColumnElement[bool]:
    other = tables.terms.alias()
    return exists().where(other.c.sort_key == tables.jobs.c.sort_key, *_begins(other, part))


def _begins(terms: FromClause, part: str) -> tuple[ColumnElement[bool], ...]:
    return terms.c.kind == "word", terms.c.value >= part, terms.c.value < part + _LAST
