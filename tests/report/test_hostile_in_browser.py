"""What a real browser makes of a report whose every text is hostile: nothing runs and nothing is fetched."""

from __future__ import annotations

import os
import shutil
import subprocess
import threading
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.jobs.as_case import assess_job
from firingend.jobs.card import Cause, Note, Part, TypedLabel, Work, to_json
from firingend.jobs.location import Location
from firingend.jobs.store import Store
from firingend.report.gather import gather
from firingend.report.html import render_html

RAN = "ran-42"
MARK = "document.documentElement.id='ran-'+6*7"
"""Leaves a trace in the page that the text of the attack itself does not hold."""

ATTACKS = (
    f"<script>{MARK}</script>",
    f"</title><script>{MARK}</script>",
    f"</style><script>{MARK}</script>",
    f"--><script>{MARK}</script><!--",
    f"<img src=x onerror={MARK}>",
    f'"><img src=x onerror="{MARK}">',
    f"'><svg onload={MARK}>",
    f'" onload="{MARK}" onerror="{MARK}" autofocus onfocus="{MARK}',
    "<iframe srcdoc='<img src=ADDRESS/frame>'></iframe>",
    f"<details open ontoggle={MARK}><summary>x</summary></details>",
    "<meta http-equiv=refresh content='0;url=ADDRESS/meta'>",
    "<link rel=stylesheet href=ADDRESS/link>",
    "<img src=ADDRESS/img>",
    "; background: url(ADDRESS/css)",
)


@pytest.fixture(scope="module")
def browser() -> str:
    """The browser's program; skips where there is none."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if found is None:
        if os.environ.get("FIRINGEND_REQUIRE_ALL"):
            pytest.fail("no browser (Debian: chromium)")
        pytest.skip("no browser (Debian: chromium)")
    return found


@pytest.fixture
def server() -> Iterator[tuple[str, list[str]]]:
    """Address of a server on this machine, and the paths it was asked for."""
    asked: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    running = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=running.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{running.server_port}", asked
    running.shutdown()
    running.server_close()


def opened(browser: str, page: str, folder: Path) -> str:
    """The page as it stands in the browser once its scripts have had two seconds."""
    file = folder / "page.html"
    file.write_text(page, encoding="utf-8")
    done = subprocess.run(
        [
            browser,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--no-first-run",
            "--disable-background-networking",
            f"--user-data-dir={folder / 'profile'}",
            "--virtual-time-budget=2000",
            "--dump-dom",
            file.as_uri(),
        ],
        capture_output=True,
        timeout=120,
        check=True,
    )
    return done.stdout.decode("utf-8", "replace")


def attack(address: str) -> str:
    """Every attack in one text."""
    return " ".join(ATTACKS).replace("ADDRESS", address)


def poisoned(value: Any, text: str) -> Any:
    """The same content with a text in the place of every text."""
    if isinstance(value, str):
        return text
    if isinstance(value, tuple):
        return tuple(poisoned(item, text) for item in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: poisoned(getattr(value, f.name), text) for f in fields(value)})
    return value


@pytest.mark.parametrize("number", range(len(ATTACKS)))
def test_each_attack_works_on_a_careless_page(
    browser: str, server: tuple[str, list[str]], tmp_path: Path, number: int
) -> None:
    address, asked = server
    text = ATTACKS[number].replace("ADDRESS", address)
    places = "<p>{0}</p>", '<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=" alt="{0}">', '<p style="{0}">x</p>'
    careless = [f"<!doctype html><title>x</title>{place.format(text)}" for place in places]
    assert any(RAN in opened(browser, page, tmp_path) or asked for page in careless)
    asked.clear()
    careful = "".join(place.format(escape(text)) for place in places[:2])
    assert RAN not in opened(browser, f"<!doctype html><title>x</title>{careful}", tmp_path)
    assert asked == []


def test_nothing_runs_in_a_hostile_report(
    browser: str, server: tuple[str, list[str]], result: CaseResult, knowledge: Knowledge, tmp_path: Path
) -> None:
    address, asked = server
    content = poisoned(gather(result, date(2024, 3, 7), knowledge), attack(address))
    seen = opened(browser, render_html(content), tmp_path)
    assert "onerror" in seen  # the text is there to be read
    assert RAN not in seen
    assert asked == []


def test_nothing_runs_in_the_report_of_a_hostile_job(
    browser: str, server: tuple[str, list[str]], tmp_path: Path
) -> None:
    address, asked = server
    text = attack(address)
    from firingend.engine.build import build_engine

    with Store(Location(tmp_path / "data"), backups=False) as store:
        lines = dict.fromkeys(("name", "customer", "mark"), text[:480])
        job = store.new_job({**lines, "complaint": text, "engine": to_json("engine", build_engine(2, name=text[:99]))})
        entries = {
            "typed/a": TypedLabel(1, "wet"),
            "found/a": Cause(text[:480], text[:480]),
            "ruled_out/a": Cause(text[:480], text[:480]),
            "parts/a": Part(text[:480]),
            "work/a": Work(text[:480], 5.0),
            "notes/a": Note(text),
        }
        job = store.change(job, {"fixed": text} | {path: to_json(path, entry) for path, entry in entries.items()})
        page = render_html(gather(assess_job(store, job)))
    seen = opened(browser, page, tmp_path)
    assert "onerror" in seen
    assert RAN not in seen
    assert asked == []
