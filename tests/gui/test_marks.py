"""Marks can be told apart without their colours."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from firingend_gui.parts.marks import LabelMark, ProbabilityBar
from PySide6.QtGui import QImage

from firingend.labels import LABELS, UNREADABLE


def outlines(label: str, side: int = 72) -> np.ndarray:
    """Where the drawing changes from one grey to another: its shapes, with every fill left out."""
    mark = LabelMark(side)
    mark.show_label(label)
    grey = mark.grab().toImage().convertToFormat(QImage.Format.Format_Grayscale8)
    pixels = np.frombuffer(grey.constBits(), np.uint8).reshape(grey.height(), grey.bytesPerLine())[:, :side]
    values = pixels.astype(float)
    return np.hypot(*np.gradient(values)) > 12


@pytest.mark.parametrize(("one", "other"), list(combinations((*LABELS, UNREADABLE), 2)))
def test_no_two_marks_have_one_shape(qtbot, one, other):
    differ = outlines(one) ^ outlines(other)
    assert differ.mean() > 0.01


def test_a_bar_is_as_long_as_its_probability(qtbot):
    bar = ProbabilityBar("Probability")
    qtbot.addWidget(bar)
    bar.resize(200, 16)
    ends = []
    for value in (0.25, 0.75):
        bar.show_value(value, f"{value:.0%}")
        image = bar.grab().toImage()
        fill = bar.palette().highlight().color().rgb()
        ends.append(sum(image.pixelColor(x, 8).rgb() == fill for x in range(200)))
    assert ends == pytest.approx([50, 150], abs=4)
    assert bar.accessibleDescription() == "75%"
