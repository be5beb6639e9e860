"""What to say of things that were found in a photograph and taken for no firing end.

Apart from `abstention`, which brings what reading itself needs: whoever only prints readings should start at once.
"""

from __future__ import annotations

from firingend.reading.reading import PhotoReading, Reason


def left_out_reason(photo: PhotoReading) -> Reason | None:
    """What to mind where firing ends were read and more was found but taken for none; None where nothing was.

    A dark or blurred plug may be among what was left out, and the ones after it would count a place too few.
    """
    if not photo.readings or not photo.left_out:
        return None
    more = len(photo.left_out)
    return Reason(
        "left-out",
        f"{more} more {'thing was' if more == 1 else 'things were'} taken for no firing end and left out",
        "count the plugs; one that is missing needs a photograph of its own, from close by",
    )
