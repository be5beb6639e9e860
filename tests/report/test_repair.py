"""What a workshop's report says of a job: causes, costs, before and after, verdicts of measurements."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date

from pypdf import PdfReader

from firingend.bench.measurement import Measurement
from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.labels import LABELS, UNREADABLE
from firingend.report.gather import gather
from firingend.report.html import render_html
from firingend.report.job_facts import JobFacts, Look, Named, Used, Worked
from firingend.report.measured import measured_lines
from firingend.report.pdf import render_pdf
from firingend.report.repair import proof

JOB = JobFacts(
    number=7,
    status="fixed",
    opened=date(2024, 3, 1),
    customer="fleet 12",
    found=(Named("injector-clogged", "cylinder 2"),),
    ruled_out=(Named("weak-coil", "coil A"),),
    fixed="Injector cleaned.",
    work=(Worked("Cleaning", 90),),
    parts=(Used("seal kit", 2, 12.5),),
    rate=60,
    spent=102.5,
    currency="EUR",
    notes=("Connector was loose.",),
)


def later(result: CaseResult, label: str) -> JobFacts:
    changed = replace(result.readings[2], label=label, probabilities=dict.fromkeys(LABELS, 0.2))
    return replace(JOB, later=(Look("after the repair", replace(result, readings={**result.readings, 2: changed})),))


def test_a_job_in_the_report(result: CaseResult, knowledge: Knowledge) -> None:
    content = gather(result, date(2024, 3, 7), knowledge, later(result, "normal-tan"))
    repair = content.repair
    assert repair is not None
    assert [(fact.name, fact.value) for fact in repair.causes] == [("Injector clogged", "cylinder 2")]
    assert [(c.what, c.how_much, c.amount) for c in repair.costs] == [
        ("Cleaning", "1\xa0h 30\xa0min", "90.00\xa0EUR"),
        ("seal kit", "2", "12.50\xa0EUR"),
    ]
    assert repair.total == "1\xa0h 30\xa0min, 102.50\xa0EUR"
    assert [pair.cylinder for pair in repair.pairs] == [f"Cylinder {i}" for i in (1, 2, 3, 4)]
    assert [shot.label for shot in repair.pairs[1].shots] == ["Lean, white", "Normal, tan"]
    assert content.ruled_out_by_hand == "Weak coil – coil A."
    assert content.steps == ()
    assert content.facts[0].value == "7, opened 1 March 2024, fixed"
    assert "Photographs" not in [fact.name for fact in content.facts]
    page = render_html(content)
    pdf = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(render_pdf(content))).pages)
    for said in ("Injector cleaned.", "Connector was loose.", "Ruled out by the technician", "102.50", repair.proof):
        assert said in page
        assert said in " ".join(pdf.replace("\xa0", " ").split())


def test_an_open_job_still_says_what_to_check(result: CaseResult, knowledge: Knowledge) -> None:
    assert gather(result, None, knowledge, replace(JOB, status="open")).steps


def test_what_proves_a_repair(result: CaseResult) -> None:
    assert "not been looked at again" in proof(result, JOB)
    assert proof(result, later(result, "normal-tan")).startswith("Every plug that was read is tan")
    assert proof(result, later(result, "wet")) == "Not every plug is tan after the repair: look on."
    unread = proof(result, later(result, UNREADABLE))
    assert unread == "The plug of cylinder 2 has not been read again: the plugs do not prove the repair yet."


def test_measurements_stand_against_what_is_asked_for() -> None:
    low, fine = measured_lines(
        (
            Measurement("compression-dry", "cylinder 1", 700, "kPa", "spec at least 1000; throttle open"),
            Measurement("compression-dry", "cylinder 2", 1180, "kPa", "spec at least 1000"),
        )
    )
    assert (low.value, low.limits, low.verdict) == ("700\xa0kPa, throttle open", "at least 1000\xa0kPa", "Low")
    assert low.reason == "700 kPa is under the limit of 1000."
    assert fine.verdict == "In order"


def test_a_measurement_that_cannot_be_judged_is_still_shown() -> None:
    (line,) = measured_lines((Measurement("tyre-pressure", "engine", 2.5, "bar"),))
    assert (line.name, line.value, line.verdict) == ("Tyre pressure", "2.5\xa0bar", "")
