"""A view for tests of scenes: a lens in front of the origin and a lamp above it."""

from __future__ import annotations

import numpy as np
from firingend_training.scenes.view import View


def camera(**change):
    """The view; ``change`` replaces what a test looks at otherwise."""
    values = dict(
        origin=np.array([0, -100.0, 0]),
        target=np.zeros(3),
        up=np.array([0, 0, 1.0]),
        field_degrees=20.0,
        aperture_mm=1.0,
        focus_mm=100.0,
        width=80,
        height=60,
        lamp_position=np.array([0, 0, 100.0]),
        lamp_target=np.zeros(3),
        lamp_radius_mm=5.0,
        lamp_radiance=np.ones(3),
    )
    return View(**{**values, **change})
