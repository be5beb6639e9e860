"""Curves as SVG inside a page; shapes and words carry the meaning, colour only helps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from firingend.evaluation.scores import Bin

WIDTH: Final = 420
HEIGHT: Final = 320
_LEFT, _RIGHT, _TOP, _BOTTOM = 58, 22, 14, 46
_STROKES: Final = ("", "7 4", "2 4", "9 3 2 3", "4 4", "12 4", "1 3")

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Axes:
    """A frame with both axes starting at 0."""

    most_x: float
    most_y: float

    def at(self, x: float, y: float) -> Point:
        """Place in the drawing of a point of the data."""
        return (
            _LEFT + x / self.most_x * (WIDTH - _LEFT - _RIGHT),
            HEIGHT - _BOTTOM - y / self.most_y * (HEIGHT - _TOP - _BOTTOM),
        )

    def frame(self, x_name: str, y_name: str, x_ticks: Sequence[tuple[float, str]], percent_y: bool) -> Markup:
        """Axes, ticks and names."""
        parts = []
        for x, text in x_ticks:
            px, py = self.at(x, 0)
            parts.append(Markup('<text x="{:.1f}" y="{:.1f}" text-anchor="middle">{}</text>').format(px, py + 17, text))
        for step in range(5):
            y = self.most_y * step / 4
            text = f"{y:.3g}" if not percent_y else f"{y:.0%}" if self.most_y > 0.2 else f"{y:.1%}"
            px, py = self.at(0, y)
            parts.append(
                Markup(
                    '<path class="grid" d="M{:.1f} {:.1f}H{}"/><text x="{:.1f}" y="{:.1f}" text-anchor="end">{}</text>'
                ).format(px, py, WIDTH - _RIGHT, px - 7, py + 4, text)
            )
        middle_x, middle_y = (_LEFT + WIDTH - _RIGHT) / 2, (_TOP + HEIGHT - _BOTTOM) / 2
        parts.append(
            Markup('<text x="{:.1f}" y="{}" text-anchor="middle">{}</text>').format(middle_x, HEIGHT - 8, x_name)
        )
        parts.append(
            Markup(
                '<text x="13" y="{0:.1f}" text-anchor="middle" transform="rotate(-90 13 {0:.1f})">{1}</text>'
            ).format(middle_y, y_name)
        )
        return Markup("").join(parts)

    def line(self, points: Sequence[Point], stroke: str = "", css: str = "curve") -> Markup:
        """A line through points of the data."""
        way = " ".join(f"{x:.1f},{y:.1f}" for x, y in (self.at(*point) for point in points))
        return Markup('<polyline class="{}" stroke-dasharray="{}" points="{}"/>').format(css, stroke or "none", way)

    def dot(self, point: Point, radius: float = 3.5) -> Markup:
        """A dot at a point of the data."""
        x, y = self.at(*point)
        return Markup('<circle class="dot" cx="{:.1f}" cy="{:.1f}" r="{:.1f}"/>').format(x, y, radius)


_SHARES: Final = tuple((share, f"{share:.0%}") for share in (0.0, 0.25, 0.5, 0.75, 1.0))


def reliability(bins: Sequence[Bin]) -> Markup:
    """Accuracy against confidence; the larger the dot, the more plugs are in its bin."""
    axes = _Axes(1.0, 1.0)
    most = max((each.count for each in bins), default=1)
    dots = [axes.dot((b.confidence, b.accuracy), 2.5 + 7 * (b.count / most) ** 0.5) for b in bins]
    path = axes.line([(b.confidence, b.accuracy) for b in bins])
    inside = axes.frame("confidence", "share right", _SHARES, True) + axes.line([(0, 0), (1, 1)], "4 4", "ideal")
    return _svg("Share right against confidence, with the ideal diagonal", inside + path + Markup("").join(dots))


def risk_coverage(points: Sequence[Point], here: Point | None) -> Markup:
    """Error among the labels given against the share of plugs that get one; the dot is where the reader stands."""
    top = max([risk for _, risk in points] + ([here[1]] if here else []) + [0.04])
    axes = _Axes(1.0, _round_up(top))
    inside = axes.frame("share of plugs given a label", "share of those wrong", _SHARES, True) + axes.line(points)
    return _svg("Share wrong against share of plugs given a label", inside + (axes.dot(here, 5) if here else ""))


def severity_curves(lines: Sequence[tuple[str, Sequence[float]]]) -> Markup:
    """Balanced accuracy against severity 0 to 5, one line a kind; each kind has its own stroke, named in a legend."""
    axes = _Axes(5.0, 1.0)
    parts = [axes.frame("severity", "balanced accuracy", [(float(s), str(s)) for s in range(6)], True)]
    for (_, values), stroke in zip(lines, _cycle(len(lines)), strict=True):
        parts.append(axes.line([(float(s), value) for s, value in enumerate(values)], stroke))
    for row, ((name, _), stroke) in enumerate(zip(lines, _cycle(len(lines)), strict=True)):
        y = _TOP + 10 + row * 19
        parts.append(
            Markup('<path class="curve" stroke-dasharray="{}" d="M{} {}h34"/><text x="{}" y="{}">{}</text>').format(
                stroke or "none", WIDTH + 6, y, WIDTH + 47, y + 4, name
            )
        )
    return _svg("Balanced accuracy against severity, one line for each kind", Markup("").join(parts), WIDTH + 150)


def _cycle(count: int) -> list[str]:
    return [_STROKES[i % len(_STROKES)] for i in range(count)]


def _round_up(value: float) -> float:
    return next(top for top in (0.04, 0.08, 0.12, 0.2, 0.4, 0.6, 0.8, 1.0) if value <= top + 1e-9)


def _svg(title: str, inside: Markup, width: int = WIDTH) -> Markup:
    return Markup('<svg viewBox="0 0 {0} {1}" width="{0}" role="img"><title>{2}</title>{3}</svg>').format(
        width, HEIGHT, title, inside
    )
