"""Loading a model file never runs what is in it: only ONNX is loaded, and nothing shipped can unpickle."""

from __future__ import annotations

import ast
import hashlib
import io
import pickle
import zipfile
from pathlib import Path

import pytest

from firingend.errors import UserError
from firingend.reading.networks import Network

ROOT = Path(__file__).parents[2]
UNPICKLING = {"pickle", "_pickle", "cPickle", "marshal", "shelve", "dill", "cloudpickle", "joblib", "torch"}


class Trap:
    """Leaves a file behind when it is unpickled."""

    def __init__(self, file: Path) -> None:
        self.file = file

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return Path.write_text, (self.file, "sprung", "utf-8")


def as_archive(pickled: bytes) -> bytes:
    """The same inside a zip file, as some frameworks write their weights."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("archive/data.pkl", pickled)
        archive.writestr("archive/version", "3\n")
    return stream.getvalue()


@pytest.mark.parametrize("name", ["reader.onnx", "reader.pt", "reader.pkl", "reader.bin"])
@pytest.mark.parametrize("wrapped", [False, True])
def test_a_pickle_is_refused_unopened(tmp_path: Path, name: str, wrapped: bool) -> None:
    sprung = tmp_path / "sprung"
    pickled = pickle.dumps(Trap(sprung))
    content = as_archive(pickled) if wrapped else pickled
    file = tmp_path / name
    file.write_bytes(content)
    with pytest.raises(UserError, match="not a network"):
        Network(file, hashlib.sha256(content).hexdigest())
    assert not sprung.exists()
    pickle.loads(pickled)
    assert sprung.exists()  # the trap would have worked


def test_nothing_that_ships_can_unpickle() -> None:
    looked_at = 0
    for file in sorted([*(ROOT / "src").rglob("*.py"), *(ROOT / "gui").rglob("*.py")]):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                assert not {alias.name.partition(".")[0] for alias in node.names} & UNPICKLING, file
            elif isinstance(node, ast.ImportFrom):
                assert (node.module or "").partition(".")[0] not in UNPICKLING, file
            elif isinstance(node, ast.Call):
                assert "allow_pickle" not in {keyword.arg for keyword in node.keywords}, file
                called = node.func.id if isinstance(node.func, ast.Name) else ""
                assert called not in ("eval", "exec", "compile", "__import__"), file
        looked_at += 1
    assert looked_at > 100


def test_training_unpickles_weights_only() -> None:
    """Checkpoints are the trainer's own; even so nothing but numbers is taken from them."""
    loads = 0
    for file in sorted((ROOT / "training").rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "torch.load":
                said = {keyword.arg: ast.unparse(keyword.value) for keyword in node.keywords}
                assert said.get("weights_only") == "True", file
                loads += 1
    assert loads
