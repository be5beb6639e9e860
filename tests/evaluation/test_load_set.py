from __future__ import annotations

import pytest

from firingend.evaluation.load_set import load_set
from firingend.evaluation.photo_set import SetError


def _csv(folder, text, write_photo, files=("a.jpg", "b.jpg")):
    for file in files:
        write_photo(folder / file)
    path = folder / "list.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_folder_per_label(tmp_path, write_photo):
    write_photo(tmp_path / "lean-white" / "x.jpg")
    write_photo(tmp_path / "Rich carbon" / "engine 7" / "y.png")
    write_photo(tmp_path / "unused" / "engine 7" / "z.jpg")
    write_photo(tmp_path / "other-part" / "bolt.jpg")
    (tmp_path / "wet").mkdir()
    (tmp_path / "lean-white" / "notes.txt").write_text("no photograph")
    photo_set = load_set(tmp_path)
    seen = {p.file.name: ([plug.label for plug in p.plugs], p.group) for p in photo_set.pictures}
    assert seen == {
        "x.jpg": (["lean-white"], "lean-white/x.jpg"),
        "y.png": (["rich-carbon"], "engine 7"),
        "z.jpg": (["unused"], "engine 7"),
        "bolt.jpg": ([], "other-part/bolt.jpg"),
    }


def test_a_folder_of_another_name_is_named_with_the_names_allowed(tmp_path, write_photo):
    write_photo(tmp_path / "holiday" / "x.jpg")
    with pytest.raises(SetError, match=r"holiday is not named after a label.*lean-white"):
        load_set(tmp_path)


def test_an_empty_folder_is_no_set(tmp_path):
    with pytest.raises(SetError, match="holds no photographs"):
        load_set(tmp_path)


def test_neither_folder_nor_file(tmp_path):
    with pytest.raises(SetError, match="neither a folder nor a CSV file"):
        load_set(tmp_path / "nothing")


def test_csv_with_boxes_engine_and_nuisances(tmp_path, write_photo):
    text = (
        "file,kind,label,boxes,view,light,engine,notes\n"
        'a.jpg,row,wet;normal-tan,"1,2,30,40;50,2,80.5,40",33,flash,E1,2 plugs; ev -0.8; nose 450 px; window\n'
        "b.jpg,not-a-plug,not-a-plug,,,,,bolt\n"
    )
    row, bolt = load_set(_csv(tmp_path, text, write_photo)).pictures
    assert [(plug.label, plug.box) for plug in row.plugs] == [
        ("wet", (1, 2, 30, 40)),
        ("normal-tan", (50, 2, 80.5, 40)),
    ]
    assert row.group == "E1"
    assert row.boxes_known
    assert row.nuisance == {
        "kind": "row",
        "view_degrees": 33.0,
        "light": "flash",
        "ev": -0.8,
        "nose": 450.0,
        "notes": ("2 plugs", "window"),
    }
    assert bolt.plugs == ()
    assert bolt.group == "b.jpg"


def test_csv_may_leave_the_label_to_the_kind_and_a_plug_to_the_finder(tmp_path, write_photo):
    text = "\ufefffile,label,kind,readable\na.jpg,,other-part,\nb.jpg,wet,used,no\n"
    other, wet = load_set(_csv(tmp_path, text, write_photo)).pictures
    assert other.plugs == ()
    assert [(plug.label, plug.box, plug.readable) for plug in wet.plugs] == [("wet", None, False)]


def test_a_folder_with_truth_csv_is_read_by_it(tmp_path, write_photo):
    _csv(tmp_path, "file,label\na.jpg,wet\n", write_photo).rename(tmp_path / "truth.csv")
    assert load_set(tmp_path).kind == "csv"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name,label\na.jpg,wet\n", "has no column file"),
        ("", "has no column file and no column label"),
        ("file,label\na.jpg,damp\n", r"line 2: label 'damp' is not known: use one of lean-white"),
        ("file,label\nmissing.jpg,wet\n", r"line 2: missing.jpg does not exist"),
        ("file,label\na.jpg,wet\n,wet\n", r"line 3: no file is named"),
        ('file,label,boxes\na.jpg,wet;wet,"0,0,9,9"\n', r"line 2: 2 labels but 1 boxes"),
        ('file,label,boxes\na.jpg,wet,"0,0,9"\n', r"line 2: box '0,0,9' is not four numbers"),
        ('file,label,boxes\na.jpg,wet,"9,9,0,0"\n', r"line 2: box '9,9,0,0' has no area"),
        ("file,label,boxes\na.jpg,wet,0,0,9,9\n", r"line 2: more values than columns.*double quotes"),
        ("file,label\na.jpg,wet;not-a-plug\n", r"line 2: not-a-plug beside other labels"),
    ],
)
def test_a_csv_that_does_not_say_what_it_must(tmp_path, write_photo, text, message):
    with pytest.raises(SetError, match=message):
        load_set(_csv(tmp_path, text, write_photo))


def test_a_csv_in_another_encoding(tmp_path):
    path = tmp_path / "list.csv"
    path.write_bytes("file,label\nü.jpg,wet\n".encode("utf-16"))
    with pytest.raises(SetError, match="UTF-8"):
        load_set(path)


TRUTH = (
    '{"file":"pictures/a.jpg","mask":"masks/a.png","scene":4,"kind":"row","width":64,"height":48,"plugs":['
    '{"plug":1,"label":"wet","ceramic":"tan","surface":"film","box":[1,2,30,40],"axis":[0,-1],"view_degrees":88,'
    '"nose_pixels":200,"severity":0.5,"signs":{"ash":0.4},"shape":{"thread_mm":10,"rim":{"a":1}}},'
    '{"plug":2,"label":"unused","ceramic":"pale","surface":"dry","box":[31,2,60,40],"axis":[0,-1],'
    '"view_degrees":80,"nose_pixels":3,"severity":0.0}],"nuisance":{"light":"lamp","flash":true,"ev":0.3}}\n'
)


def test_rendered_set(tmp_path):
    (tmp_path / "truth.jsonl").write_text(TRUTH + "\n")
    photo_set = load_set(tmp_path)
    (picture,) = photo_set.pictures
    assert photo_set.kind == "rendered"
    assert picture.file == tmp_path / "pictures" / "a.jpg"
    assert picture.group == "4"
    assert picture.nuisance == {"kind": "row", "light": "lamp", "flash": "yes", "ev": 0.3}
    assert [(plug.label, plug.readable) for plug in picture.plugs] == [("wet", True), ("unused", False)]
    assert picture.plugs[0].nuisance == {"view_degrees": 88, "severity": 0.5, "signs": ("ash",), "thread_mm": 10}


@pytest.mark.parametrize(("shrunk_to", "visible"), [(None, True), (0, True), (20, False), (21, True), (96, True)])
def test_what_is_too_small_to_make_out_before_it_was_enlarged(tmp_path, shrunk_to, visible):
    """The firing ends are 38 of the picture's 48 pixels high."""
    shrunk = "" if shrunk_to is None else f'"shrink_to":{shrunk_to},'
    (tmp_path / "truth.jsonl").write_text(TRUTH.replace('"nuisance":{', '"nuisance":{' + shrunk))
    (picture,) = load_set(tmp_path).pictures
    assert [plug.visible for plug in picture.plugs] == [visible, visible]


def test_what_the_renderer_writes_is_read(tmp_path):
    truth = pytest.importorskip("firingend_training.truth")
    plug = truth.PlugTruth(1, "wet", "tan", "film", (1.0, 2.0, 30.0, 40.0), (0.0, -1.0), 88.0, 200, 0.5)
    truth.write_truth(
        tmp_path / "truth.jsonl",
        [truth.PictureTruth("pictures/a.jpg", "masks/a.png", 4, "held", 64, 48, (plug,), {"place": "bench"})],
    )
    (picture,) = load_set(tmp_path).pictures
    assert picture.plugs[0].box == (1.0, 2.0, 30.0, 40.0)
    assert picture.nuisance == {"kind": "held", "place": "bench"}


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("{}", r"line 2: file: "),
        ("nonsense", r"line 2: the line: "),
        (TRUTH.replace('"wet"', '"damp"'), r"line 2: label 'damp' is not known"),
    ],
)
def test_a_damaged_rendered_set(tmp_path, line, message):
    (tmp_path / "truth.jsonl").write_text(TRUTH + line)
    with pytest.raises(SetError, match=message):
        load_set(tmp_path)
