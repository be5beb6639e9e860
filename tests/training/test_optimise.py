"""The switches of the loop: no stage of heads alone, no running average, a compiled network."""

from __future__ import annotations

from functools import partial

import pytest
import torch
from firingend_training import finder_task, reader_task
from firingend_training.networks import STATUS, FinderNet, ReaderNet
from firingend_training.optimise import fit
from firingend_training.settings import FinderSettings, ReaderSettings

from firingend.labels import COVERED_PARTS, SIGNS

STEPS = 6


def batches():
    generator = torch.Generator().manual_seed(0)
    while True:
        yield (torch.randn(2, 3, 64, 64, generator=generator),)


def loss(net, batch):
    out = net(batch[0])
    return (out.five - 1.0).square().mean() + out.severity.square().mean()


def copied(net):
    return {name: value.detach().clone() for name, value in net.state_dict().items()}


def moved(net, before, part):
    """Names of the learnt weights of a part that changed."""
    learnt = [name for name, _ in net.named_parameters() if name.startswith("body.") == (part == "body")]
    now = net.state_dict()
    return [name for name in learnt if not torch.equal(now[name], before[name])]


def fitted(folder, steps=STEPS, **changes):
    torch.manual_seed(0)
    settings = ReaderSettings(crop=64, pretrained=False, steps=steps, minutes=60.0, dropout=0.0, **changes)
    net = ReaderNet(settings)
    before = copied(net)
    kept = fit(net, batches(), loss, folder, device=torch.device("cpu"))
    return net, before, kept


@pytest.mark.parametrize(("head_first", "body_learns"), [(0.0, True), (1.0, False)])
def test_the_body_learns_from_the_start_unless_the_heads_come_first(tmp_path, head_first, body_learns):
    net, before, _ = fitted(tmp_path, head_first=head_first, average=0.0)
    assert moved(net, before, "heads")
    assert bool(moved(net, before, "body")) == body_learns


def test_without_heads_first_the_first_step_already_moves_the_body(tmp_path):
    net, before, _ = fitted(tmp_path, steps=1, head_first=0.0, average=0.0)
    assert moved(net, before, "body")


def test_a_run_says_its_steps_and_its_last_loss(tmp_path, capsys):
    fitted(tmp_path, steps=2)
    said = capsys.readouterr().out
    assert ": 2 steps, last loss " in said
    assert 0.1 < float(said.partition("last loss ")[2].partition(",")[0]) < 10.0


def test_without_an_average_the_last_weights_are_kept(tmp_path):
    net, _, kept = fitted(tmp_path, average=0.0)
    saved = torch.load(tmp_path / "weights.pt", weights_only=True)
    assert kept is net
    assert not kept.training
    assert all(torch.equal(saved[name], value) for name, value in net.state_dict().items())


def test_with_an_average_other_weights_than_the_last_are_kept(tmp_path):
    net, _, kept = fitted(tmp_path, average=0.998)
    saved = torch.load(tmp_path / "weights.pt", weights_only=True)
    assert any(not torch.equal(saved[name], value) for name, value in net.state_dict().items())
    assert all(torch.equal(saved[name], value) for name, value in kept.state_dict().items())


def test_a_compiled_network_and_its_loss_are_one_graph_and_it_learns_what_it_learns_as_it_is(tmp_path, monkeypatch):
    """Without the kernels, for which it takes a C++ compiler or a graphics card."""
    graphs = []

    def counted(graph, _inputs):
        graphs.append(graph)
        return graph.forward

    whole = partial(torch.compile, backend=counted, fullgraph=True)
    monkeypatch.setattr("firingend_training.optimise.compiled", whole)
    as_it_is, before, _ = fitted(tmp_path, steps=2, head_first=0.0, average=0.0)
    assert not graphs
    compiled, _, kept = fitted(tmp_path, steps=2, head_first=0.0, average=0.0, compiled=True)
    assert kept is compiled
    assert len(graphs) == 1
    assert sorted(torch.load(tmp_path / "weights.pt", weights_only=True)) == sorted(before)
    for name, value in as_it_is.state_dict().items():  # two steps move a weight by up to 4e-5
        torch.testing.assert_close(compiled.state_dict()[name], value, rtol=0.0, atol=1e-6)
    assert moved(compiled, before, "body")


def reader_batch():
    """A tan plug, one whose truth is hardly known, and a picture without a plug."""
    torch.manual_seed(1)
    crops, masks = torch.randn(3, 3, 64, 64), torch.randint(0, 7, (3, 16, 16))
    masks[1] = 255
    status = torch.tensor([STATUS.index(name) for name in ("used", "used", "not-a-plug")])
    none = reader_task.NONE
    signs = torch.zeros(3, len(SIGNS))
    signs[1], severity = torch.nan, torch.tensor([0.5, torch.nan, torch.nan])
    cover = torch.rand(3, len(COVERED_PARTS))
    cover[2] = torch.nan
    targets = (torch.tensor([1, none, none]), torch.tensor([1, 0, none]), torch.tensor([0, none, none]))
    return (crops, masks, *targets, status, signs, severity, cover)


def finder_batch():
    """Two firing ends in one picture, none in the other."""
    torch.manual_seed(1)
    boxes = torch.full((2, 3, 4), torch.nan)
    boxes[0, 0], boxes[0, 1] = torch.tensor([10.0, 12.0, 50.0, 60.0]), torch.tensor([70.0, 64.0, 118.0, 120.0])
    axes = torch.full((2, 3, 2), torch.nan)
    axes[0, :2] = torch.tensor([[0.6, -0.5], [0.0, 1.0]])
    return (torch.randn(2, 3, 128, 128), *finder_task.targets(boxes, axes, 128))


def reader():
    settings = ReaderSettings(crop=64, pretrained=False, dropout=0.0)
    return ReaderNet(settings), reader_task.loss_of(settings), reader_batch()


def finder():
    return FinderNet(FinderSettings(canvas=128, long_side=128, pretrained=False)), finder_task.loss_of, finder_batch()


@pytest.mark.parametrize("made", [reader, finder])
def test_each_network_and_its_loss_are_one_graph(made):
    torch.manual_seed(0)
    net, loss_of, batch = made()
    gradients = []
    for run in (partial(loss_of, net), torch.compile(partial(loss_of, net), backend="eager", fullgraph=True)):
        net.zero_grad()
        value = run(batch)
        value.backward()
        gradients.append((value.detach(), [p.grad.clone() for p in net.parameters() if p.grad is not None]))
    (plain, of_plain), (whole, of_whole) = gradients
    assert torch.isfinite(plain) and plain > 0
    torch.testing.assert_close(whole, plain)
    assert len(of_plain) == len(of_whole) > 100
    for a, b in zip(of_whole, of_plain, strict=True):
        assert torch.isfinite(a).all()
        torch.testing.assert_close(a, b, rtol=1e-3, atol=1e-4)
