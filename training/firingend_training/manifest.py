"""Writes a rendered set's manifest: a hash of every file, counts, settings.

``python -m firingend_training.manifest SET``
"""

from __future__ import annotations

import argparse
import hashlib
import json
from collections import Counter
from pathlib import Path
from typing import Any

from firingend_training.truth import read_truth

MANIFEST = "manifest.json"


def manifest_of(folder: Path) -> dict[str, Any]:
    """The manifest of a set: ``files`` (path to sha256), ``counts`` and ``settings``."""
    files = {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != MANIFEST
    }
    truths = list(read_truth(folder / "truth.jsonl"))
    seen: dict[int, str] = {plug.plug: plug.label for truth in truths for plug in truth.plugs}
    return {
        "files": files,
        "counts": {
            "pictures": len(truths),
            "scenes": len({t.scene for t in truths}),
            "distinct_plugs": len(seen),
            "pictures_of_kind": dict(sorted(Counter(t.kind for t in truths).items())),
            "plugs_of_label": dict(sorted(Counter(seen.values()).items())),
            "plug_views_of_label": dict(sorted(Counter(p.label for t in truths for p in t.plugs).items())),
        },
        "settings": json.loads((folder / "settings.json").read_text(encoding="utf-8")),
    }


def main(argv: list[str] | None = None) -> int:
    """Run the command line; returns the exit status."""
    parser = argparse.ArgumentParser(prog="firingend_training.manifest", description=__doc__.splitlines()[0])
    parser.add_argument("set", type=Path, help="folder of a rendered set")
    folder = parser.parse_args(argv).set
    if not (folder / "truth.jsonl").is_file():
        parser.error(f"{folder} holds no truth.jsonl; give the folder that --out named")
    manifest = manifest_of(folder)
    (folder / MANIFEST).write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(manifest["counts"], indent=1))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
