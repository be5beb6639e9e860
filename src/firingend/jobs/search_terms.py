"""What a card can be found by."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from typing import Final

from firingend.jobs.card import Fields

LONGEST: Final = 120
MOST_WORDS: Final = 400
"""Words of one card that are searched for; a complaint is a paragraph, not a book."""

_WORD: Final = re.compile(r"\w+")


def folded(text: str) -> str:
    """Text as it is compared: without case, accents' several spellings and runs of space.

    Examples
    --------
    >>> folded("  Pump  SET ")
    'pump set'
    """
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())[:LONGEST]


def words(text: str) -> tuple[str, ...]:
    """The words of a text, as they are compared.

    Examples
    --------
    >>> words("Pump-set, No. 4")
    ('pump', 'set', 'no', '4')
    """
    folded_text = unicodedata.normalize("NFKC", text).casefold()
    return tuple(word[:LONGEST] for word in _WORD.findall(folded_text))


def terms_of(fields: Fields) -> tuple[tuple[str, str], ...]:
    """(kind, value) of everything a card is found by, each once, sorted.

    Kinds: ``word`` (of name, customer, engine, mark, complaint), ``engine``, ``mark``, ``customer``, ``label``,
    ``cause``.
    """
    return tuple(sorted(set(_terms(fields))))


def _terms(fields: Fields) -> Iterator[tuple[str, str]]:
    engine = (fields.get("engine") or {}).get("name", "")
    texts = [fields.get("name", ""), fields.get("customer", ""), engine, fields.get("mark", "")]
    found = [word for text in (*texts, fields.get("complaint", "")) for word in words(text)]
    yield from (("word", word) for word in found[:MOST_WORDS])
    for kind, text in (("engine", engine), ("mark", texts[3]), ("customer", texts[1])):
        if value := folded(text):
            yield kind, value
    for path, value in fields.items():
        kind = path.partition("/")[0]
        if kind == "typed":
            yield "label", folded(value["label"])
        elif kind == "readings":
            yield from (("label", folded(each["label"])) for each in value["reading"]["readings"])
        elif kind == "found":
            yield "cause", folded(value["cause"])
