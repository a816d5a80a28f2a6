"""A plain chart as SVG: for pictures that are asked for by address and printed with the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape

import numpy as np
from numpy.typing import NDArray

from isohume.dashboard import theme

FloatArray = NDArray[np.float64]
WIDTH, HEIGHT = 460, 260
LEFT, RIGHT, TOP, BOTTOM = 62, 14, 30, 46


@dataclass(kw_only=True)
class Chart:
    """Axes and what is drawn on them.

    Attributes
    ----------
    x_range, y_range : (low, high)
    logarithmic : bool
        Of the x axis.
    title : str
        For those who hear the picture.
    """

    x_range: tuple[float, float]
    y_range: tuple[float, float]
    title: str
    x_title: str = ""
    y_title: str = ""
    logarithmic: bool = False
    _parts: list[str] = field(default_factory=list)

    def x(self, values: FloatArray | float) -> FloatArray:
        """Return places across [px]."""
        low, high = np.log(self.x_range) if self.logarithmic else self.x_range
        at = np.log(values) if self.logarithmic else np.asarray(values, dtype=np.float64)
        return np.asarray(LEFT + (at - low) / (high - low) * (WIDTH - LEFT - RIGHT))

    def y(self, values: FloatArray | float) -> FloatArray:
        """Return places down [px]."""
        low, high = self.y_range
        return np.asarray(TOP + (high - np.asarray(values)) / (high - low) * (HEIGHT - TOP - BOTTOM))

    def line(self, x: FloatArray, y: FloatArray, *, colour: str, width: float = 2.0, dashed: bool = False) -> None:
        """Draw a line."""
        dashes = ' stroke-dasharray="5 4"' if dashed else ""
        self._parts.append(
            f'<polyline points="{self._points(x, y)}" fill="none" stroke="{colour}" stroke-width="{width:g}" '
            f'stroke-linejoin="round"{dashes}/>'
        )

    def area(self, x: FloatArray, low: FloatArray, high: FloatArray, *, colour: str) -> None:
        """Fill what lies between two lines."""
        points = f"{self._points(x, high)} {self._points(x[::-1], low[::-1])}"
        self._parts.append(f'<polygon points="{points}" fill="{colour}" opacity=".28"/>')

    def level(self, value: float) -> None:
        """Draw a level across."""
        down = float(self.y(value))
        self._parts.append(
            f'<path d="M{LEFT} {down:.1f}H{WIDTH - RIGHT}" stroke="{theme.INK}" stroke-dasharray="5 4"/>'
        )

    def moment(self, value: float, words: str, *, before: bool = False) -> None:
        """Draw a line upwards at one place, with words beside it."""
        across = float(self.x(value))
        self._parts.append(
            f'<path d="M{across:.1f} {TOP}V{HEIGHT - BOTTOM}" stroke="{theme.INK}" stroke-dasharray="2 3"/>'
            + self._text(across + (-5 if before else 5), TOP + 11, words, anchor="end" if before else "start")
        )

    def legend(self, entries: Sequence[tuple[str, str, bool]]) -> None:
        """Name the lines above the chart: words, colour, dashed."""
        across = float(LEFT)
        for words, colour, dashed in entries:
            dashes = ' stroke-dasharray="5 4"' if dashed else ""
            self._parts.append(f'<path d="M{across:.0f} 14h20" stroke="{colour}" stroke-width="2.5"{dashes}/>')
            self._parts.append(self._text(across + 25, 18, words))
            across += 40 + 6.6 * len(words)

    def svg(self, x_ticks: Sequence[tuple[float, str]], y_ticks: Sequence[tuple[float, str]]) -> str:
        """Return the picture."""
        grid = []
        for value, words in y_ticks:
            down = float(self.y(value))
            grid.append(f'<path d="M{LEFT} {down:.1f}H{WIDTH - RIGHT}" stroke="{theme.HAIRLINE}"/>')
            grid.append(self._text(LEFT - 7, down + 4, words, anchor="end"))
        for value, words in x_ticks:
            across = float(self.x(value))
            grid.append(f'<path d="M{across:.1f} {HEIGHT - BOTTOM}v5" stroke="{theme.QUIET}"/>')
            grid.append(self._text(across, HEIGHT - BOTTOM + 19, words, anchor="middle"))
        names = self._text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 7, self.x_title, anchor="middle")
        middle = (TOP + HEIGHT - BOTTOM) / 2
        turned = f'transform="translate(13 {middle:.0f}) rotate(-90)" text-anchor="middle"'
        names += f"<text {turned}>{escape(self.y_title)}</text>"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="{theme.SANS}" '
            f'font-size="12.5" fill="{theme.QUIET}" role="img"><title>{escape(self.title)}</title>'
            f"{''.join(grid)}{''.join(self._parts)}{names}</svg>"
        )

    def _points(self, x: FloatArray, y: FloatArray) -> str:
        return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(self.x(x), self.y(y), strict=True))

    @staticmethod
    def _text(across: float, down: float, words: str, *, anchor: str = "start") -> str:
        return f'<text x="{across:.1f}" y="{down:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
