"""Teach a reader on a smaller body what a trained one says: ``python -m firingend_training.distil --teacher RUN``.

What several rounds of pictures and averages have put into a reader is lost to one that learns from labels alone. So the
smaller one begins with all of the teacher's weights that fit it, and learns the teacher's answers beside the truth: on
pictures as they are, and on two laid over one another, where there is no truth but still an answer
(L. Beyer et al., "Knowledge distillation: A good teacher is patient and consistent", CVPR 2022).
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import torch
import torch.nn.functional as F
from torch import Tensor, nn

from firingend.errors import UserError
from firingend_training import reader_task
from firingend_training.export import load_reader
from firingend_training.networks import ReaderNet, ReaderOutput
from firingend_training.optimise import compiled
from firingend_training.picture_store import Regions
from firingend_training.settings import ReaderSettings
from firingend_training.train import begin, fit_reader, overridden, regions_of, run_arguments

SOFTENED: Final = 2.0
"""Temperature of the answers compared: above 1 what the teacher thinks of the other labels counts as well."""
_CHOICES: Final = ("five", "ceramic", "surface", "status")


@dataclass(frozen=True, slots=True)
class Teaching:
    """What a student listens to."""

    taught: float = 0.7
    """Weight of the teacher's answers; the truth has the rest."""
    mixed: float = 0.5
    """Share of a batch in which two pictures lie over one another."""

    def __post_init__(self) -> None:
        if not 0.0 < self.taught <= 1.0:
            raise ValueError(f"taught is {self.taught}; it must be above 0 and at most 1")
        if not 0.0 <= self.mixed < 1.0:
            raise ValueError(f"mixed is {self.mixed}; it must be from 0 to below 1")


def student_of(teacher: ReaderNet, settings: ReaderSettings) -> tuple[ReaderNet, list[str]]:
    """A reader of these settings with every weight of the teacher that fits, and the names of those that do not.

    Raises
    ------
    ValueError
        If it would look at crops of another size than the teacher.
    """
    if (settings.crop, settings.margin) != (teacher.settings.crop, teacher.settings.margin):
        raise ValueError(f"the teacher looks at crops of {teacher.settings.crop} px, margin {teacher.settings.margin}")
    student = ReaderNet(replace(settings, pretrained=False))
    known = teacher.state_dict()
    own = student.state_dict()
    fitting = {name: known[name] for name, value in own.items() if name in known and known[name].shape == value.shape}
    student.load_state_dict({**own, **fitting})
    return student, sorted(own.keys() - fitting.keys())


def taught_batches(
    batches: Iterator[tuple[Tensor, ...]], teacher: Callable[[Tensor], ReaderOutput], mixed: float
) -> Iterator[tuple[Tensor, ...]]:
    """The batches of ``reader_task.batches``, the first ``mixed`` of each laid over others of it, and the answers.

    Yields
    ------
    crops (N, 3, S, S), the truth in its order, then the teacher's `ReaderOutput` for these crops, float32.
    """
    for crops, *truth in batches:
        over = round(len(crops) * mixed)
        share = torch.rand(over, 1, 1, 1, device=crops.device)
        other = crops[torch.randperm(len(crops), device=crops.device)[:over]]
        shown = torch.cat([share * crops[:over] + (1.0 - share) * other, crops[over:]])
        with torch.no_grad(), torch.autocast(shown.device.type, torch.bfloat16, enabled=shown.device.type == "cuda"):
            # clones, since a compiled network writes its next answers over these
            answers = [answer.float().clone() for answer in teacher(shown)]
        yield (shown, *truth, *answers)


def loss_of(settings: ReaderSettings, teaching: Teaching) -> Callable[[nn.Module, tuple[Tensor, ...]], Tensor]:
    """The loss over one batch of `taught_batches`."""
    count = len(ReaderOutput._fields)

    def loss(net: nn.Module, batch: tuple[Tensor, ...]) -> Tensor:
        crops, truth, answers = batch[0], batch[1:-count], ReaderOutput(*batch[-count:])
        out = ReaderOutput(*(o.float() for o in net(crops)))
        said = apart_from(out, answers, settings)
        if teaching.taught == 1.0:
            return said
        over = round(len(crops) * teaching.mixed)
        clear = ReaderOutput(*(o[over:] for o in out))
        known = reader_task.loss_against(clear, [t[over:] for t in truth], settings)
        return teaching.taught * said + (1.0 - teaching.taught) * known

    return loss


def apart_from(out: ReaderOutput, answers: ReaderOutput, settings: ReaderSettings) -> Tensor:
    """How far logits are from another reader's on the same crops; least where they are the same."""
    weights = reader_task.weights_of(settings)
    parts = {name: _divergence(getattr(out, name), getattr(answers, name)) for name in _CHOICES}
    parts["signs"] = F.binary_cross_entropy_with_logits(out.signs, answers.signs.sigmoid())
    for name in ("severity", "cover"):
        parts[name] = (getattr(out, name).sigmoid() - getattr(answers, name).sigmoid()).abs().mean()
    parts["parts"] = F.cross_entropy(out.parts, answers.parts.softmax(1))
    return torch.stack([weights[name] * value for name, value in parts.items()]).sum()


def _divergence(logits: Tensor, answers: Tensor) -> Tensor:
    """Kullback-Leibler divergence of softened (N, C) logits from the answers, scaled so that its slope stays."""
    said = F.log_softmax(logits / SOFTENED, 1)
    wanted = F.log_softmax(answers / SOFTENED, 1)
    return F.kl_div(said, wanted, reduction="batchmean", log_target=True) * SOFTENED**2


def distil(
    teacher: ReaderNet,
    student: ReaderNet,
    regions: Regions,
    out: Path,
    teaching: Teaching,
    device: torch.device,
    *,
    resume: bool = False,
) -> None:
    """Teach a student; ``out`` receives what `train.fit_reader` leaves there."""
    teacher.to(device)
    settings = student.settings
    answer: Callable[[Tensor], ReaderOutput] = compiled(teacher) if settings.compiled else teacher
    fit_reader(
        student,
        regions,
        out,
        device,
        loss_of(settings, teaching),
        prepared=lambda batches: taught_batches(batches, answer, teaching.mixed),
        resume=resume,
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and teach."""
    plain = Teaching()
    parser = argparse.ArgumentParser(prog="firingend_training.distil", description=__doc__.splitlines()[0])
    parser.add_argument("--teacher", type=Path, required=True, help="run folder of the reader to learn from")
    run_arguments(parser)
    parser.add_argument("--taught", type=float, default=plain.taught, help="weight of the teacher's answers, 0 to 1")
    parser.add_argument("--mixed", type=float, default=plain.mixed, help="share of pictures laid over others")
    chosen = parser.parse_args(arguments)
    try:
        teacher = load_reader(chosen.teacher)
        settings = overridden(replace(teacher.settings, head_first=0.05), chosen.setting)
        teaching = Teaching(chosen.taught, chosen.mixed)
        torch.manual_seed(settings.seed)  # the weights that begin anew hang on it
        student, fresh = student_of(teacher, settings)
    except ValueError as error:
        parser.error(str(error))
    begin(chosen.out, settings)
    device = torch.device(chosen.device)
    try:
        distil(teacher, student, regions_of(chosen), chosen.out, teaching, device, resume=chosen.resume)
    except UserError as error:
        parser.exit(1, f"{error}\n")
    print(f"{len(fresh)} weights began anew: {', '.join(fresh) or 'none'}")


if __name__ == "__main__":
    main()
