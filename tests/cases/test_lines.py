"""Which line of a TOML text a key stands on."""

from __future__ import annotations

from firingend.cases.lines import key_lines, line_of

TEXT = '''\
# a comment with = in it
name = "x"
long = """
trap = 1
[trap]
"""
[engine]
"quoted key" = 1
a.b = 2
list = [
  1,
]
[[engine.shared]]
kind = "coil"
[[engine.shared]]
kind = "head"
[engine.shared.deep]
z = 1
'''


def test_every_key_has_its_line():
    lines = key_lines(TEXT)
    assert lines["name",] == 2
    assert lines["engine",] == 7
    assert lines["engine", "quoted key"] == 8
    assert lines["engine", "a"] == lines["engine", "a", "b"] == 9
    assert lines["engine", "list"] == 10
    assert lines["engine", "shared", 0, "kind"] == 14
    assert lines["engine", "shared", 1] == 15
    assert lines["engine", "shared", 1, "kind"] == 16
    assert lines["engine", "shared", 1, "deep", "z"] == 18


def test_text_inside_long_strings_is_no_key():
    assert not any("trap" in path for path in key_lines(TEXT))


def test_nearest_holder_stands_in_for_a_key_inside_an_inline_table():
    lines = key_lines('plugs = { 1 = "wet" }\n')
    assert line_of(lines, ("plugs", "1")) == 1
    assert line_of(lines, ("elsewhere",)) is None
