"""What the measures are called when a person reads them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from firingend.evaluation.bootstrap import Measure


@dataclass(frozen=True, slots=True)
class Wording:
    """A measure in words.

    ``name``: in a table. ``meaning``: one sentence. ``percent``: a share, shown as a percentage.
    """

    name: str
    meaning: str
    percent: bool = True


SECTIONS: Final[dict[str, dict[str, Wording]]] = {
    "Labels, a refusal counted as wrong": {
        "balanced_accuracy": Wording("balanced accuracy", "mean over the labels of the share read right"),
        "macro_f1": Wording("macro-F1", "mean over the labels of the balance of share read right and said right"),
        "accuracy": Wording("accuracy", "share of all plugs read right; the commonest label rules it"),
        "refused": Wording("given no label", "refused or not found"),
    },
    "Labels, among the plugs given one": {
        "balanced_accuracy_answered": Wording("balanced accuracy", "mean over the labels of the share read right"),
        "macro_f1_answered": Wording("macro-F1", "mean over the labels"),
        "error_answered": Wording("wrong", "share of the labels given that are wrong"),
    },
    "Labels, the likeliest even if not given": {
        "balanced_accuracy_first_guess": Wording("balanced accuracy", "as if nothing that was found were refused"),
        "macro_f1_first_guess": Wording("macro-F1", "as if nothing that was found were refused"),
        "balanced_accuracy_first_guess_equal_prior": Wording(
            "balanced accuracy, all labels taken as equally common", "the stated prior divided out"
        ),
        "macro_f1_first_guess_equal_prior": Wording(
            "macro-F1, all labels taken as equally common", "the stated prior divided out"
        ),
    },
    "Can the probabilities be believed": {
        "ece": Wording("ECE", "mean gap between confidence and share right, 15 bins", False),
        "ece_at_set_prior": Wording("ECE at the set's own shares", "the prior exchanged for the set's", False),
        "brier": Wording("Brier score", "0 is perfect, 2 the worst", False),
        "brier_at_set_prior": Wording("Brier score at the set's own shares", "the prior exchanged", False),
        "log_loss": Wording("log loss", "0 is perfect", False),
        "aurc": Wording("AURC", "mean risk over all coverages; 0 is perfect", False),
        "coverage_at_2_percent_error": Wording("coverage at 2 % error", "most plugs that can be let through at it"),
        "label_set_right": Wording("right label in the set", "of all that the plug could be"),
        "label_set_size": Wording("labels in the set", "mean number of what the plug could be", False),
    },
    "Plugs that are not lean, and things that are no plugs": {
        "unused_not_lean": Wording("unused, not called lean", "share of the unused plugs"),
        "unused_refused": Wording("unused, given no label", "share of the unused plugs"),
        "ash_not_lean": Wording("ash-crusted, not called lean", "share of the ash-crusted plugs"),
        "coolant_clean_not_lean": Wording("washed clean by coolant, not called lean", "share of those plugs"),
        "not_a_plug_refused": Wording("not a plug, given no label", "share of the photographs without a plug"),
    },
    "Finding firing ends": {
        "finder_recall": Wording("firing ends found", "share of all firing ends"),
        "false_finds_per_picture": Wording("finds where none is, a photograph", "refused ones too", False),
        "false_labels_per_picture": Wording("labels where no plug is, a photograph", "not refused", False),
        "rows_all_found": Wording("rows found whole", "every plug of the row found"),
        "row_order_right": Wording("row order right", "the plugs found come in the order of the row"),
        "rows_all_found_in_order": Wording("rows found whole and in order", "share of the rows"),
        "rows_exactly_right": Wording("rows exactly right", "whole, in order, and nothing else found"),
    },
    "Finding what a person can make out, and in single rows": {
        "finder_recall_visible": Wording("firing ends found", "share of those a person can make out"),
        "rows_all_found_visible": Wording("rows found whole", "of rows in which a person can make out every plug"),
        "row_order_right_visible": Wording("row order right", "in those rows"),
        "rows_all_found_in_order_visible": Wording("rows found whole and in order", "of those rows"),
        "row_order_right_one_row": Wording("row order right", "of photographs of a single row"),
        "rows_all_found_in_order_visible_one_row": Wording(
            "rows found whole and in order", "single rows in which a person can make out every plug"
        ),
    },
    "Finding before anything found is left out as no plug": {
        "finder_recall_before_keeping": Wording("firing ends found", "share of all firing ends"),
        "false_finds_per_picture_before_keeping": Wording("finds where none is, a photograph", "", False),
        "row_order_right_before_keeping": Wording("row order right", "the plugs found come in the order of the row"),
        "rows_all_found_in_order_before_keeping": Wording("rows found whole and in order", "share of the rows"),
    },
}
"""Every measure of `scores.Scores`, in the order of a report."""


NUISANCES: Final = {
    "view_degrees": "view: degrees off the plug's axis",
    "box_px": "size: longer side of the firing end, px",
    "kind": "kind of photograph",
    "notes": "noted",
    "measured focus": "sharpness, measured on the crop (variance of the Laplacian)",
    "measured brightness": "brightness, measured on the crop (mean luma, 0 to 255)",
    "measured cast degrees": "colour cast, measured on the crop (degrees from neutral)",
}
"""What a nuisance is called on the page; others go by their own name."""


def shown(value: float, percent: bool) -> str:
    """A number as text.

    Examples
    --------
    >>> shown(0.9712, True), shown(0.0214, False), shown(float("nan"), True)
    ('97.1 %', '0.021', '–')
    """
    if value != value:
        return "–"
    return f"{value * 100:.1f} %" if percent else f"{value:.3f}"


def shown_interval(measure: Measure, percent: bool) -> str:
    """Both ends of the interval as text; a dash where there is none."""
    if measure.low != measure.low:
        return "–"
    low, high = shown(measure.low, percent), shown(measure.high, percent)
    return f"{low.removesuffix(' %')} to {high}"
