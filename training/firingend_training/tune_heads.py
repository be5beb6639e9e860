"""Tune a trained reader's heads on further pictures: ``python -m firingend_training.tune_heads --start RUN --set SET``.

The body, and with it what ImageNet and the large training taught, stays as it is: what it says of every crop is worked
out once, several times roughed up, and only the small layers behind it learn. Minutes on a processor, where a whole
training takes a graphics card. The heads are held near where they started, so that a small set cannot undo a large one.
"""

from __future__ import annotations

import argparse
import json
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import onnxruntime
import torch
from torch import Tensor, nn
from tqdm import tqdm

from firingend.labels import PARTS
from firingend_training import reader_task
from firingend_training.augment import normalised, photometric
from firingend_training.export import export_network, load_reader
from firingend_training.networks import ReaderNet, ReaderOutput
from firingend_training.optimise import rate_factor
from firingend_training.picture_store import NONE, held_apart, load_regions
from firingend_training.settings import tuning_arguments

AT_ONCE: Final = 32
CARRIED: Final = ("settings.json", "apart.npz")
"""Files that go along unchanged. The scenes kept apart there are many more than a further set has: temperatures and
thresholds fitted on them are the better ones, as long as the heads stay near."""


@dataclass(frozen=True, slots=True)
class TuneSettings:
    """How the heads are tuned; saved beside the weights."""

    views: int = 4
    """Roughed-up copies of every crop, beside the plain one."""
    steps: int = 600
    batch: int = 256
    rate: float = 3e-4
    anchor: float = 0.01
    """Weight of the squared distance from the weights they started with."""
    held_apart: float = 0.15
    only: str = ""
    """The one head that learns, a name in ``ReaderNet.HEADS``; what the others say then stays as it was, to the bit."""
    seed: int = 0

    def __post_init__(self) -> None:
        if self.only and self.only not in ReaderNet.HEADS:
            raise ValueError(f"{self.only!r} is no head of the reader: name one of {', '.join(ReaderNet.HEADS)}")


class Facts(nn.Module):
    """The reader without its heads."""

    def __init__(self, net: ReaderNet) -> None:
        super().__init__()
        self.net = net

    def forward(self, crops: Tensor) -> tuple[Tensor]:
        """(N, 3, S, S) → (N, F), what the heads are fed with."""
        return (self.net.facts(crops)[0],)


class Heads(nn.Module):
    """The reader behind ``Facts``."""

    def __init__(self, net: ReaderNet) -> None:
        super().__init__()
        self.shared, self.heads = net.shared, net.heads

    def forward(self, facts: Tensor) -> ReaderOutput:
        """(N, F) → logits; the part maps are zeros, for the loss to pass over."""
        shared = self.shared(facts)
        parts = torch.zeros(len(facts), len(PARTS), 1, 1)
        return ReaderOutput(**{name: head(shared) for name, head in self.heads.items()}, parts=parts)


def facts_of(net: ReaderNet, tensors: reader_task.RegionTensors, settings: TuneSettings) -> Tensor:
    """(1 + views, n, F): what the body says of every region, plain first, then roughed up."""
    side = net.settings.crop
    with tempfile.TemporaryDirectory(prefix="firingend-") as folder:
        path = Path(folder) / "facts.onnx"  # several times as fast on a processor as torch
        example = torch.zeros(2, 3, side, side)
        # In 16 bits: what lies behind the channels of an averaged reader moves too far in 8 to pass for the same.
        export_network(
            Facts(net).eval(), example, path, inputs="crops", outputs=("facts",), free={0: "n"}, in_bytes=False
        )
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = torch.get_num_threads()
        session = onnxruntime.InferenceSession(path.read_bytes(), options, providers=["CPUExecutionProvider"])
    views = []
    for view in tqdm(range(1 + settings.views), desc="views"):
        found = []
        for rows in torch.arange(len(tensors.pictures)).split(AT_ONCE):
            crops, _ = tensors.crops(rows, net.settings, jitter=1.0 if view else 0.0)
            crops = photometric(crops, net.settings.photometric) if view else crops
            found.append(session.run(None, {"crops": normalised(crops).numpy()})[0])
        views.append(np.concatenate(found))
    return torch.from_numpy(np.stack(views))


def batches(
    facts: Tensor, targets: dict[str, Tensor], rows: Tensor, weights: Tensor, settings: TuneSettings
) -> Iterator[tuple[Tensor, ...]]:
    """Endless batches as ``reader_task.loss_of`` wants them, the crops' facts in the crops' place."""
    masks = torch.full((settings.batch, 1, 1), 255)
    masks[0] = 0  # at least one cell must be known
    while True:
        chosen = rows[torch.multinomial(weights, settings.batch, replacement=True)]
        view = torch.randint(0, len(facts), (settings.batch,))
        yield (facts[view, chosen], masks, *(target[chosen] for target in targets.values()))


def tune(start: Path, sets: Sequence[Path], out: Path, settings: TuneSettings) -> dict[str, float]:
    """Tune the heads of the run in ``start`` and leave a run of the same form in ``out``.

    Returns
    -------
    Balanced accuracy of the five-way head on the scenes kept apart of these sets, ``before`` and ``after``.
    """
    torch.manual_seed(settings.seed)
    net = load_reader(start)
    regions = load_regions(sets)
    tensors = reader_task.RegionTensors(regions, torch.device("cpu"))
    facts, targets = facts_of(net, tensors, settings), tensors.targets
    apart = np.array([held_apart(int(scene), settings.held_apart) for scene in regions.scene])
    learn = np.flatnonzero(~apart)
    classes = reader_task.class_of(regions)
    shares = np.array(list(reader_task.CLASS_SHARES.values()))
    counts = np.bincount(classes[learn], minlength=len(shares)).clip(1)
    weights = torch.from_numpy((shares / counts)[classes[learn]])
    heads = Heads(net)
    result = {"before": _apart_score(heads, facts[0], targets["five"], apart)}
    _fit(heads, batches(facts, targets, torch.from_numpy(learn), weights, settings), net, settings)
    result["after"] = _apart_score(heads, facts[0], targets["five"], apart)
    out.mkdir(parents=True, exist_ok=True)
    torch.save(net.state_dict(), out / "weights.pt")
    for name in CARRIED:
        if (start / name).exists():  # an averaged run has no scenes kept apart yet
            shutil.copyfile(start / name, out / name)
    told = {"start": start.name, "pictures": len(regions), **asdict(settings), **result}
    (out / "tuned.json").write_text(json.dumps(told, indent=2) + "\n", encoding="utf-8")
    return result


def _fit(heads: Heads, stream: Iterator[tuple[Tensor, ...]], net: ReaderNet, settings: TuneSettings) -> None:
    heads.requires_grad_(False)
    learning = heads.heads[settings.only] if settings.only else heads
    learning.requires_grad_(True)
    begun = [parameter.detach().clone() for parameter in learning.parameters()]
    optimiser = torch.optim.AdamW(learning.parameters(), lr=settings.rate, weight_decay=0.0)
    loss_of = reader_task.loss_of(net.settings)
    heads.train(not settings.only)  # a layer that stays as it is drops nothing out
    for step in tqdm(range(settings.steps), desc="heads"):
        optimiser.param_groups[0]["lr"] = settings.rate * rate_factor(step, step / settings.steps)
        away = torch.stack(
            [((now - then) ** 2).sum() for now, then in zip(learning.parameters(), begun, strict=True)]
        ).sum()
        optimiser.zero_grad()
        (loss_of(heads, next(stream)) + settings.anchor * away).backward()
        optimiser.step()
    heads.eval()


@torch.inference_mode()
def _apart_score(heads: Heads, facts: Tensor, five: Tensor, apart: np.ndarray[Any, Any]) -> float:
    heads.eval()
    rows = torch.from_numpy(apart) & (five != NONE)
    return reader_task.label_score(five[rows].numpy(), heads(facts[rows]).five.argmax(1).numpy())


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and tune."""
    parser = argparse.ArgumentParser(prog="firingend_training.tune_heads", description=__doc__)
    chosen, settings = tuning_arguments(parser, TuneSettings, arguments)
    result = tune(chosen.start, chosen.sets, chosen.out, settings)
    print(f"scenes kept apart: {result['before']:.3f} before, {result['after']:.3f} after")


if __name__ == "__main__":
    main()
