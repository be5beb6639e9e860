"""Text from anywhere made fit to print: no control characters, no reordering, no endless fields."""

from __future__ import annotations

import unicodedata

LONGEST = 1500
"""Characters of one field that are printed; what a person types is far shorter."""

_KEPT_FORMATS = frozenset("\u200c\u200d\u00ad")  # joiners and the soft hyphen shape words and harm nobody


def plain(text: str) -> str:
    """One field of text, its line breaks kept.

    Control characters, halves of surrogate pairs, private and unassigned characters and the marks that turn the
    direction of writing are dropped: they cannot be printed, and some hide what a text really says.

    Examples
    --------
    >>> plain("  hunts\\x00 at idle\\r\\n\\r\\n\\r\\nand stalls \\u202e")
    'hunts at idle\\nand stalls'
    """
    text = text[: 4 * LONGEST].replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", "\n").replace("\t", " ")
    kept = "".join(c for c in text if c == "\n" or c in _KEPT_FORMATS or unicodedata.category(c)[0] != "C")
    lines = (" ".join(line.split(" ")).strip() for line in kept.split("\n"))
    shown = "\n".join(line for line in lines if line)
    return shown if len(shown) <= LONGEST else shown[:LONGEST].rstrip() + " … (shortened)"


def one_line(text: str) -> str:
    """One field of text on one line.

    Examples
    --------
    >>> one_line("left\\ncarburettor")
    'left carburettor'
    """
    return plain(text).replace("\n", " ")


def sentence(text: str) -> str:
    """A text with a capital letter in front and a full stop behind.

    Examples
    --------
    >>> sentence("out of focus"), sentence("Why?"), sentence("")
    ('Out of focus.', 'Why?', '')
    """
    shown = one_line(text)
    if not shown:
        return ""
    return shown[0].upper() + shown[1:] + ("" if shown[-1] in ".!?…" else ".")


def first_sentence(text: str) -> tuple[str, str]:
    """A text cut after its first sentence: the sentence and the rest.

    Examples
    --------
    >>> first_sentence("Cylinder 2 is white, the others tan. Cylinder 4 could not be read.")
    ('Cylinder 2 is white, the others tan.', 'Cylinder 4 could not be read.')
    >>> first_sentence("All alike.")
    ('All alike.', '')
    """
    shown = one_line(text)
    head, stop, rest = shown.partition(". ")
    return (head + ".", rest) if stop else (shown, "")
