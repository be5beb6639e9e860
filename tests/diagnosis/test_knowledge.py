"""The shipped knowledge is complete and consistent; a shop's mistakes are named."""

from __future__ import annotations

import re

import pytest

from firingend.diagnosis.knowledge import FLOOR, SHIPPED, load
from firingend.errors import KnowledgeError

KNOWLEDGE = load()


def test_size():
    assert len(KNOWLEDGE.causes) >= 60
    assert len(KNOWLEDGE.checks) >= 70


def test_every_number_has_a_source():
    for table in (KNOWLEDGE.causes, KNOWLEDGE.checks, KNOWLEDGE.symptoms, KNOWLEDGE.profiles, KNOWLEDGE.openings):
        for entry in table.values():
            assert "common practice" in entry.source or re.search(r"[A-Z]{2,}", entry.source), entry.id


def test_published_limits_are_named():
    assert "TM 5-4210-230-14&P-1" in KNOWLEDGE.checks["compression-dry"].source
    assert "AC 43.13-1B" in KNOWLEDGE.checks["leak-down"].source


def test_every_cause_can_be_settled_by_a_check_that_tells_it_from_the_rest():
    for cause in KNOWLEDGE.causes.values():
        assert cause.confirmed_by, cause.id
        assert any(cause.id in KNOWLEDGE.checks[name].given for name in cause.confirmed_by), cause.id


def test_every_check_bears_on_some_cause_and_no_outcome_is_impossible():
    for check in KNOWLEDGE.checks.values():
        assert check.given or check.given_profile, check.id
        for row in (check.otherwise, *check.given.values(), *check.given_profile.values()):
            assert min(row) >= FLOOR and sum(row) == pytest.approx(1.0)


def test_no_name_means_two_things():
    for table in (KNOWLEDGE.causes, KNOWLEDGE.checks, KNOWLEDGE.symptoms):
        seen: dict[str, str] = {}
        for entry in table.values():
            for name in {entry.id, entry.name, *entry.also}:
                assert seen.setdefault(name.lower(), entry.id) == entry.id, name


@pytest.mark.parametrize(
    ("check", "words"),
    [
        ("spark-test", ["Test spark away from open plug holes", "tens of kilovolts"]),
        ("fuel-pressure-idle", ["Release the fuel pressure", "Carbon monoxide"]),
        ("injector-spray", ["Never bench-fire an injector"]),
        ("intake-leak", ["Flammable spray near a running engine", "Carbon monoxide", "moving belts"]),
        ("compression-dry", ["cool engine", "moving belts"]),
        ("coolant-level", ["cap stays shut on a hot engine"]),
        ("coil-resistance", ["battery off before wiring work"]),
        ("rail-pressure-live", ["high-pressure side"]),
        ("leak-down", ["Compressed air turns the crank"]),
    ],
)
def test_cautions_stand_beside_the_work(check, words):
    said = " ".join(KNOWLEDGE.cautions[name].text for name in KNOWLEDGE.checks[check].cautions)
    for word in words:
        assert word in said


@pytest.mark.parametrize(
    ("pattern", "caution"),
    [
        (r"[Cc]rank", "spark-and-vapour|high-voltage|moving-and-hot|manual-first|compressed-air"),
        (r"[Ii]dling|at idle|[Rr]un the engine|[Ww]arm engine|[Ww]arm the engine", "carbon-monoxide|moving-and-hot"),
        (r"[Rr]elease the pressure|fit the gauge into the feed", "fuel-pressure"),
        (r"[Pp]ropane", "flammable-spray"),
        (r"plugs out|plug hole", "cool-engine-plugs|spark-and-vapour|high-voltage"),
    ],
)
def test_dangerous_words_bring_their_caution(pattern, caution):
    for check in KNOWLEDGE.checks.values():
        if re.search(pattern, " ".join(check.how)):
            assert set(caution.split("|")) & set(check.cautions), check.id


def test_names_are_found_by_other_words():
    assert KNOWLEDGE.symptom_id("Hunting idle") == "surging-idle"
    assert KNOWLEDGE.check_id("Air filter and its box") == "air-filter"
    assert KNOWLEDGE.outcome_id("air-filter", "OK") == "clean"
    assert KNOWLEDGE.outcome_id("coil-resistance", "open circuit") == "open"


GOOD = 'source = "our shop"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "does not say where its numbers come from"),
        (GOOD + "[cause.x\n", "not valid TOML"),
        (GOOD + "[causes.x]\nname = 'a'\n", 'no table "causes"'),
        (GOOD + "[cause.weak-coil]\nweight = 'lots'\n", "shop.toml: cause.weak-coil: key weight"),
        (GOOD + "[cause.weak-coil]\nwieght = 3\n", "cause.weak-coil: key wieght"),
        (GOOD + "[cause.weak-coil]\nplug = 'blue'\n", 'cause.weak-coil: key plug: "blue"'),
        (GOOD + "[cause.weak-coil]\nsymptoms = { rough-idle = 1.7 }\n", "cause.weak-coil: key rough-idle: 1.7"),
        (GOOD + "[cause.weak-coil]\nweight = 0\n", "can never be found"),
        (GOOD + "[check.air-filter]\notherwise = [0.5, 0.2, 0.2]\n", "check.air-filter: key otherwise.*sum to 0.9"),
        (GOOD + "[check.air-filter]\notherwise = [0.5, 0.5]\n", "2 numbers for 3 outcomes"),
        (GOOD + "[check.air-filter]\notherwise = [1.0, 0.0, 0.0]\n", "key otherwise: 1.0 is not between"),
        (GOOD + "[check.air-filter]\ngiven.nobody = [0.2, 0.4, 0.4]\n", 'key given: "nobody" is not known'),
        (GOOD + "[check.air-filter]\nhow = ['Look.']\n", "key how: 1 lines"),
        (GOOD + "[cause.Weak_Coil]\nname = 'a'\n", 'call it "weak-coil"'),
    ],
)
def test_a_shops_mistakes_are_named_with_file_entry_and_key(tmp_path, text, words):
    file = tmp_path / "shop.toml"
    file.write_text(text)
    with pytest.raises(KnowledgeError, match=words):
        load([file])


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(KnowledgeError, match=r"nowhere\.toml cannot be read"):
        load([tmp_path / "nowhere.toml"])


def test_a_shop_changes_one_number_and_leaves_the_rest(tmp_path):
    file = tmp_path / "shop.toml"
    file.write_text(GOOD + "[cause.weak-coil]\nparts = 35\n[general]\nhand_over = 900\n")
    shop = load([file])
    assert shop.causes["weak-coil"].parts == 35 and shop.general.hand_over == 900
    assert shop.causes["weak-coil"].weight == KNOWLEDGE.causes["weak-coil"].weight
    assert shop.causes["dead-coil"] == KNOWLEDGE.causes["dead-coil"]


def test_a_shops_file_named_in_the_environment_is_used_and_edits_count(tmp_path, monkeypatch):
    file = tmp_path / "shop.toml"
    file.write_text(GOOD + "[cause.weak-coil]\nparts = 35\n")
    monkeypatch.setenv("FIRINGEND_KNOWLEDGE", str(file))
    assert load().causes["weak-coil"].parts == 35
    monkeypatch.delenv("FIRINGEND_KNOWLEDGE")
    assert load().causes["weak-coil"].parts == KNOWLEDGE.causes["weak-coil"].parts


def test_shipped_files_are_small_enough_to_edit_by_hand():
    for file in SHIPPED.glob("*.toml"):
        assert len(file.read_text().splitlines()) < 800, file.name
