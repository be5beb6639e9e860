"""Every intention has a key, and no two share one."""

from __future__ import annotations

from firingend_gui.keys import CARD_KEYS, KEYS, Intention, cylinder_key


def test_every_intention_has_a_key_of_its_own():
    assert set(KEYS) == set(Intention)
    assert len(set(KEYS.values())) == len(KEYS)


def test_keys_of_a_card_carry_no_modifier():
    assert not any("+" in key for key in CARD_KEYS)


def test_the_first_nine_cylinders_have_a_key():
    assert [cylinder_key(i) for i in (0, 8, 9)] == ["Alt+1", "Alt+9", None]
