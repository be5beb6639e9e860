"""Fixtures of the photo tests."""

from __future__ import annotations

import numpy as np
import pytest
from photo_scene import HEIGHT, QUADRANTS, WIDTH
from PIL import Image


@pytest.fixture
def scene():
    """A picture whose four quarters tell every orientation apart."""
    pixels = np.empty((HEIGHT, WIDTH, 3), np.uint8)
    half_y, half_x = HEIGHT // 2, WIDTH // 2
    pixels[:half_y, :half_x], pixels[:half_y, half_x:] = QUADRANTS[0], QUADRANTS[1]
    pixels[half_y:, :half_x], pixels[half_y:, half_x:] = QUADRANTS[2], QUADRANTS[3]
    return Image.fromarray(pixels)
