"""Looks for inputs that break the parsers of bundles and case files, guided by which branches each input reaches.

Needs ``pip install atheris``. ``python tests/jobs/guided_fuzz.py case --seconds 600`` (or ``bundle``) prints how far
it got; what breaks a parser is left as ``crash-…`` in the working folder, what takes longer than 5 seconds as
``timeout-…``, and either ends the run with another status than 0.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import random
import sys
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

GUIDED = ["firingend.bench", "firingend.cases", "firingend.engine", "firingend.jobs", "tomllib", "zipfile"]
"""What is instrumented: an input that reaches a new branch in here is kept and spoilt further."""

ZIP, CARD = b"Z", b"J"
"""First byte of an input for the parser of bundles: the whole zip file follows, or just the card in it."""

FIELDS = ("revision", "edits", "before", "after", "path", "photos", "fields", "changes", "sha256", "absent", "null")


def main() -> None:
    """Run until the time is up."""
    import atheris

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("case", "bundle"))
    parser.add_argument("--seconds", type=int, default=600)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    with atheris.instrument_imports(include=GUIDED):
        import tomllib  # noqa: F401 - the parser of case files is Python too

        import hostile_files
    scratch = Path(tempfile.mkdtemp(prefix="firingend-fuzz-"))
    corpus = scratch / "corpus"
    corpus.mkdir()
    fuzz = _case if args.what == "case" else _bundle
    parse, mutate = fuzz(atheris, scratch, corpus)
    words = scratch / "words.dict"
    words.write_text("".join(f"{json.dumps(word)}\n" for word in _words(hostile_files.CASE)), encoding="utf-8")
    options = [f"-dict={words}", "-timeout=5", "-max_len=20000", "-print_final_stats=1"]
    options += [f"-max_total_time={args.seconds}", f"-seed={args.seed}"]
    atheris.Setup([sys.argv[0], str(corpus), *options], parse, **({"custom_mutator": mutate} if mutate else {}))
    atheris.Fuzz()


Parse = Callable[[bytes], None]
Mutate = Callable[[bytes, int, int], bytes]


def _case(atheris: Any, scratch: Path, corpus: Path) -> tuple[Parse, Mutate | None]:
    import hostile_files

    from firingend.cases.load import parse_case
    from firingend.errors import UserError
    from firingend.shipped import demo_dir

    (corpus / "whole").write_bytes(hostile_files.CASE.encode())
    for example in demo_dir().glob("*.toml"):
        (corpus / example.name).write_bytes(example.read_bytes())
    # The knowledge is loaded once, and is not what is looked at.
    parse_case(hostile_files.CASE)

    def parse(data: bytes) -> None:
        with contextlib.suppress(UserError):
            parse_case(data.decode("utf-8", "replace"))

    return parse, None


def _bundle(atheris: Any, scratch: Path, corpus: Path) -> tuple[Parse, Mutate | None]:
    import hostile_files
    from spoiling import Spoiler

    from firingend.errors import UserError
    from firingend.jobs.bundle_in import check_bundle

    whole = hostile_files.Hostile(scratch, 1).good_bundle
    with zipfile.ZipFile(io.BytesIO(whole)) as opened:
        inside = {name: opened.read(name) for name in opened.namelist()}
    (corpus / "whole").write_bytes(ZIP + whole)
    (corpus / "card").write_bytes(CARD + inside["job.json"])
    file = scratch / "fuzzed.zip"

    # Instrumented itself: otherwise both beginnings look alike, and only the shorter input is kept.
    @atheris.instrument_func
    def parse(data: bytes) -> None:
        if data[:1] == ZIP:
            file.write_bytes(data[1:])
        else:
            file.write_bytes(_with_card(inside, data[1:]))
        with contextlib.suppress(UserError):
            check_bundle(file)

    def mutate(data: bytes, most: int, seed: int) -> bytes:
        """Every other time a card that is still JSON, with strange values in it: bytes alone seldom get that far."""
        if data[:1] == CARD and seed % 2:
            with contextlib.suppress(ValueError, LookupError, TypeError, AttributeError, RecursionError):
                card = json.loads(data[1:])
                Spoiler(random.Random(seed)).spoil_card(card)
                spoilt = CARD + json.dumps(card).encode()
                if len(spoilt) <= most:
                    return spoilt
        mutated: bytes = atheris.Mutate(data, most)
        return mutated

    return parse, mutate


def _with_card(inside: dict[str, bytes], card: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as new:
        for name, data in {**inside, "job.json": card}.items():
            new.writestr(name, data)
    return stream.getvalue()


def _words(text: str) -> list[str]:
    return sorted({*FIELDS, *(word for word in text.replace("=", " ").split() if word.isascii() and len(word) > 2)})


if __name__ == "__main__":
    main()
