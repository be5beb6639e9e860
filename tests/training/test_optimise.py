"""The switches of the loop: no stage of heads alone, no running average, a compiled network."""

from __future__ import annotations

from functools import partial

import pytest
import torch
from firingend_training.networks import ReaderNet
from firingend_training.optimise import fit
from firingend_training.settings import ReaderSettings

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


def test_a_compiled_network_is_one_graph_and_learns_what_it_learns_as_it_is(tmp_path, monkeypatch):
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
