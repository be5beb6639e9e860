"""The fixed vocabulary: deposit labels, parts of a firing end, signs."""

from __future__ import annotations

from typing import Final

LABELS: Final = ("lean-white", "normal-tan", "rich-carbon", "oil-fouled", "wet")
"""The five deposit labels, in the order every probability vector of this project uses."""

UNREADABLE: Final = "unreadable"
"""What a reading says instead of a label when it cannot be trusted."""

PARTS: Final = ("background", "nose", "centre-electrode", "strap", "rim", "threads", "body")
"""Parts in a part mask; the index is the value in the mask. ``body`` is hexagon, gasket, upper insulator."""

COVERED_PARTS: Final = ("nose", "centre-electrode", "strap", "rim", "threads")
"""Parts on which deposits lie; for each the reader tells which share of it is covered."""

CERAMIC: Final = ("pale", "tan", "black")
"""What the insulator nose carries."""

SURFACE: Final = ("dry", "gloss", "film")
"""What the surface is: dry, a sticky gloss that stays, or a liquid film that evaporates."""

FACTS: Final = {
    "lean-white": ("pale", "dry"),
    "normal-tan": ("tan", "dry"),
    "rich-carbon": ("black", "dry"),
    "oil-fouled": ("", "gloss"),
    "wet": ("", "film"),
}
"""What each label says of ceramic and surface; what lies under oil or fuel, a label does not tell."""

SIGNS: Final = ("coolant-clean", "ash", "additive-tint", "specks", "blisters", "worn", "bridged")
"""Signs seen besides the label, each with a probability of its own."""
