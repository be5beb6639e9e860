"""Looks for inputs that break the parsers of bundles and case files, guided by which lines each input reaches.

Needs ``pip install atheris``. ``python tests/jobs/guided_fuzz.py case -max_total_time=600`` (or ``bundle``); what
breaks a parser is left as ``crash-…`` in the working folder, what takes longer than 5 seconds as ``timeout-…``.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path


def main() -> None:
    """Run until the time is up."""
    import atheris

    what, *options = sys.argv[1:] or ["case"]
    with atheris.instrument_imports(include=["firingend.cases", "firingend.jobs", "firingend.engine", "zipfile"]):
        import hostile_files

        from firingend.cases.load import parse_case
        from firingend.errors import UserError
        from firingend.jobs.bundle_in import check_bundle
    # The knowledge is loaded once, and is not what is looked at.
    parse_case(hostile_files.CASE)
    scratch = Path(tempfile.mkdtemp(prefix="firingend-fuzz-"))
    corpus = scratch / "corpus"
    corpus.mkdir()
    parse: Callable[[bytes], object]
    if what == "case":
        (corpus / "whole").write_bytes(hostile_files.CASE.encode())

        def parse(data: bytes) -> object:
            return parse_case(data.decode("utf-8", "replace"))
    else:
        whole = hostile_files.Hostile(scratch, 1).good_bundle
        (corpus / "whole").write_bytes(b"Z" + whole)
        with zipfile.ZipFile(io.BytesIO(whole)) as opened:
            inside = {name: opened.read(name) for name in opened.namelist()}
        (corpus / "card").write_bytes(b"J" + inside["job.json"])
        file = scratch / "fuzzed.zip"

        def parse(data: bytes) -> object:
            file.write_bytes(data[1:] if data[:1] == b"Z" else _with_card(inside, data[1:]))
            return check_bundle(file)

    def one(data: bytes) -> None:
        with contextlib.suppress(UserError):
            parse(data)

    words = scratch / "words.dict"
    words.write_text("".join(f"{json.dumps(word)}\n" for word in _words(hostile_files.CASE)), encoding="utf-8")
    arguments = [sys.argv[0], str(corpus), f"-dict={words}", "-timeout=5", "-max_len=20000", "-print_final_stats=1"]
    atheris.Setup([*arguments, *options], one)
    atheris.Fuzz()


def _with_card(inside: dict[str, bytes], card: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as new:
        for name, data in {**inside, "job.json": card}.items():
            new.writestr(name, data)
    return stream.getvalue()


def _words(text: str) -> list[str]:
    names = ("revision", "edits", "before", "after", "path", "photos", "fields", "changes", "sha256", "absent", "null")
    return sorted({*names, *(word for word in text.replace("=", " ").split() if word.isascii() and len(word) > 2)})


if __name__ == "__main__":
    main()
