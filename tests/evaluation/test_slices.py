from __future__ import annotations

import pytest

from firingend.evaluation.slices import MOST_NOTES, MOST_WORDS, OTHERS, bands, nuisance_names


def test_view_angles_fall_into_the_same_bands_whatever_the_set():
    found = bands("view_degrees", [{"view_degrees": v} for v in (3, 15, 90, 44.9, 0)])
    assert found == {"0 to 15": [0, 4], "15 to 30": [1], "30 to 45": [3], "75 to 90": [2]}


def test_the_largest_band_is_open():
    assert bands("box_px", [{"box_px": 60.0}, {"box_px": 900.0}]) == {"48 to 64": [0], "384 and more": [1]}


def test_other_numbers_go_into_quarters_of_the_plugs():
    found = bands("ev", [{"ev": i / 10} for i in range(40)])
    assert [len(items) for items in found.values()] == [10, 10, 10, 10]
    assert sorted(i for items in found.values() for i in items) == list(range(40))


def test_few_different_numbers_stand_for_themselves():
    assert bands("straps", [{"straps": 1.0}, {"straps": 4.0}, {"straps": 1.0}]) == {"1": [0, 2], "4": [1]}


def test_an_item_with_several_words_counts_under_each():
    found = bands("notes", [{"notes": ("flash", "rag")}, {"notes": ("rag",)}, {}])
    assert found == {"rag": [0, 1], "flash": [0]}
    many = bands("notes", [{"notes": tuple(f"note {i}" for i in range(MOST_NOTES + 9))}])
    assert len(many) == MOST_NOTES
    assert OTHERS not in many


def test_rare_words_are_put_together():
    common = [{"place": f"place {i}"} for i in range(MOST_WORDS) for _ in range(3)]
    found = bands("place", [*common, {"place": "rare"}, {"place": "rarer"}])
    assert found[OTHERS] == [36, 37]
    assert len(found) == MOST_WORDS + 1


def test_only_what_varies_is_a_nuisance_and_angle_and_size_come_first():
    nuisances = [
        {"zinc": "yes", "view_degrees": 3.0, "camera": "a", "box_px": 5.0},
        {"zinc": "no", "view_degrees": 8.0, "camera": "a", "box_px": 9.0},
    ]
    assert nuisance_names(nuisances) == ["view_degrees", "box_px", "zinc"]


@pytest.mark.parametrize("values", [[5.0] * 20, [1.0, 2.0]])
def test_odd_numbers_of_values_do_not_break(values):
    found = bands("anything", [{"anything": v} for v in values])
    assert sum(map(len, found.values())) == len(values)
