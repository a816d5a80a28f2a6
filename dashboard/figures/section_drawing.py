"""The section through one side of a frame, to scale in depth: for the build-up; told apart by hatching, not colour."""

from __future__ import annotations

from dataclasses import dataclass

from isohume.analysis.build_up import SCREW_TIP_TO_FACE_MM, BuildUp, BuildUpDepths
from isohume.dashboard import theme

WIDTH, HEIGHT = 440, 330
LEFT, DRAWN = 14.0, 408.0  # px: where the face of the frame stands, and the room for all depths
# Heights [px], not to scale: the package stands on the rebate's floor, the lip reaches over it.
TOP, FLOOR, LIP, FOOT = 46.0, 142.0, 122.0, 226.0
SCREW = 190.0
FIRST_RULE, RULE_STEP = 246.0, 22.0
LEAST_BETWEEN_NUMBERS = 19.0
SCALE_MM = 10
_HATCHES = {
    "wood": '<path d="M-2 8 8 -2M0 16 16 0M8 18 18 8" stroke="{ink}" stroke-width=".9"/>',
    "collar": '<path d="M-2 8 8 18M0 0 16 16M8 -2 18 8" stroke="{ink}" stroke-width=".9"/>',
    "cushion": '<circle cx="4" cy="4" r="1.3" fill="{ink}"/><circle cx="12" cy="12" r="1.3" fill="{ink}"/>',
    "glazing": '<path d="M2 14 8 8M8 12 14 6" stroke="{ink}" stroke-width=".8"/>',
    "spacer": '<path d="M0 0 16 16M16 0 0 16" stroke="{ink}" stroke-width="1"/>',
    "panel": '<path d="M2 0V16M6 0V16M11 0V16M14 0V16" stroke="{ink}" stroke-width="1.1"/>',
    "board, compressed": '<path d="M0 4q4 -4 8 0t8 0M0 12q4 -4 8 0t8 0" fill="none" stroke="{ink}"/>',
    "backing": '<path d="M0 3H16M0 7H16M0 11H16M0 15H16" stroke="{ink}" stroke-width="1.6"/>',
}


@dataclass(frozen=True, slots=True)
class _Scale:
    px_per_mm: float

    def x(self, mm: float) -> float:
        return LEFT + mm * self.px_per_mm


@dataclass(frozen=True, slots=True)
class _Placed:
    """One layer with its place [mm behind the face]."""

    number: int
    name: str
    start: float
    end: float


def section_svg(design: BuildUp, depths: BuildUpDepths) -> str:
    """Draw frame, package, collar and screw; depths to one scale.

    Returns
    -------
    str
        One SVG document; the numbers in it are those of the layers from the face backwards.
    """
    layers = _placed(design, depths)
    back = max([design.frame_mm + depths.collar_mm, *(layer.end for layer in layers)])
    scale = _Scale(DRAWN / max(back, 1.0))
    parts = [_patterns(), _frame(design, depths, scale), *(_layer(layer, scale, depths) for layer in layers)]
    parts += [_screw(depths, scale), _numbers(layers, scale), _rules(design, depths, scale)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-size="13" '
        f'font-family="sans-serif" fill="{theme.INK}">{"".join(parts)}</svg>'
    )


def in_words(design: BuildUp, depths: BuildUpDepths) -> str:
    """Say what the section shows, for those who hear the page."""
    lip = design.frame_mm - design.rebate_mm
    package = "; ".join(
        f"{layer.number} {layer.name} {layer.end - layer.start:g} mm" for layer in _placed(design, depths)
    )
    collar = f"a collar {depths.collar_mm:g} mm deep behind the frame" if depths.collar_mm else "no collar"
    screw = (
        "no screw fits"
        if depths.longest_screw_mm is None
        else f"the longest screw, {depths.longest_screw_mm:g} mm, ends {SCREW_TIP_TO_FACE_MM:g} mm behind the face"
    )
    return (
        f"Section to scale, from the face backwards. Frame {design.frame_mm:g} mm deep, its lip {lip:g} mm, its "
        f"rebate {design.rebate_mm:g} mm. Package: {package}. With {collar}; {screw}."
    )  # fmt: skip


def _placed(design: BuildUp, depths: BuildUpDepths) -> list[_Placed]:
    """Return the layers where they lie; a backing that the screws pass lies on the back of frame or collar."""
    at, placed = design.frame_mm - design.rebate_mm, []
    for number, layer in enumerate(design.layers(), start=1):
        if layer.name == "backing" and depths.fixing == "through the backing":
            at = design.frame_mm + depths.collar_mm
        placed.append(_Placed(number, layer.name, at, at + layer.depth_mm))
        at += layer.depth_mm
    return placed


def _patterns() -> str:
    drawn = "".join(
        f'<pattern id="{name.split(",")[0]}" width="16" height="16" patternUnits="userSpaceOnUse" '
        f'patternTransform="scale(.6)"><rect width="16" height="16" fill="{theme.SHEET}"/>'
        f"{marks.format(ink=theme.INK)}</pattern>"
        for name, marks in _HATCHES.items()
    )
    return f"<defs>{drawn}</defs>"


def _box(across: tuple[float, float], upright: tuple[float, float], fill: str) -> str:
    (x0, x1), (y0, y1) = across, upright
    return (
        f'<rect x="{x0:.1f}" y="{y0:.1f}" width="{max(x1 - x0, 0):.1f}" height="{y1 - y0:.1f}" fill="{fill}" '
        f'stroke="{theme.INK}" stroke-width="1.1"/>'
    )


def _frame(design: BuildUp, depths: BuildUpDepths, scale: _Scale) -> str:
    face, lip, back = scale.x(0), scale.x(design.frame_mm - design.rebate_mm), scale.x(design.frame_mm)
    start = f"M{face:.1f} {LIP}"
    if lip - face > 30:  # a rounded edge to the face, where there is room for one
        start = f"M{face:.1f} {LIP + 18}Q{face:.1f} {LIP} {face + 18:.1f} {LIP}"
    moulding = (
        f'<path d="{start}H{lip:.1f}V{FLOOR}H{back:.1f}V{FOOT}H{face:.1f}Z" fill="url(#wood)" stroke="{theme.INK}" '
        'stroke-width="1.4"/>'
    )  # fmt: skip
    if depths.collar_mm == 0:
        return moulding
    return moulding + _box((back, scale.x(design.frame_mm + depths.collar_mm)), (FLOOR, FOOT), "url(#collar)")


def _layer(layer: _Placed, scale: _Scale, depths: BuildUpDepths) -> str:
    x0, x1 = scale.x(layer.start), scale.x(layer.end)
    if layer.name == "remaining warp":  # the panel's own curve, and the air behind it
        bow = f"M{x0:.1f} {TOP}Q{2 * x1 - x0:.1f} {(TOP + FLOOR) / 2} {x0:.1f} {FLOOR}"
        return f'<path d="{bow}" fill="none" stroke="{theme.INK}" stroke-dasharray="3 2.5"/>'
    top = {"cushion": LIP - 2, "spacer": FLOOR - 44}.get(layer.name, TOP)  # these two stand at the edge only
    bottom = FOOT if layer.name == "backing" and depths.fixing == "through the backing" else FLOOR
    return _box((x0, x1), (top, bottom), f"url(#{layer.name.split(',')[0]})")


def _screw(depths: BuildUpDepths, scale: _Scale) -> str:
    if depths.longest_screw_mm is None:
        return ""
    tip = scale.x(SCREW_TIP_TO_FACE_MM)
    head = scale.x(SCREW_TIP_TO_FACE_MM + depths.longest_screw_mm)
    thread = "".join(f"M{x:.1f} {SCREW - 5}l-3 10" for x in _steps(tip + 12, head - 6, 6))
    white = f'stroke="{theme.SHEET}" stroke-width="7" stroke-linecap="round"'
    return (
        f'<path d="M{tip:.1f} {SCREW}H{head:.1f}" {white}/>'
        f'<path d="M{tip:.1f} {SCREW}l10 -3H{head:.1f}v6H{tip + 10:.1f}Z" fill="{theme.INK}"/>'
        f'<path d="{thread}" stroke="{theme.SHEET}" stroke-width="1.2"/>'
        f'<path d="M{head:.1f} {SCREW - 9}q7 9 0 18z" fill="{theme.INK}"/>'
    )


def _numbers(layers: list[_Placed], scale: _Scale) -> str:
    """Write the numbers of the layers above the package, moved apart where they are thin."""
    middles = [scale.x((layer.start + layer.end) / 2) for layer in layers]
    places: list[float] = []
    for middle in middles:
        places.append(max(middle, places[-1] + LEAST_BETWEEN_NUMBERS) if places else middle)
    over = max(0.0, places[-1] - (WIDTH - 10)) if places else 0.0
    for at in reversed(range(len(places))):
        limit = WIDTH - 10 if at == len(places) - 1 else places[at + 1] - LEAST_BETWEEN_NUMBERS
        places[at] = min(places[at], limit) if over else places[at]
    drawn = []
    for layer, middle, place in zip(layers, middles, places, strict=True):
        foot = {"cushion": LIP + 4, "spacer": FLOOR - 38}.get(layer.name, TOP + 6)
        drawn.append(
            f'<path d="M{place:.1f} 20L{middle:.1f} {TOP - 6}V{foot}" fill="none" stroke="{theme.QUIET}" '
            'stroke-width=".8"/>'
            f'<circle cx="{middle:.1f}" cy="{foot}" r="1.8" fill="{theme.INK}"/>'
            f'<text x="{place:.1f}" y="15" text-anchor="middle" font-weight="600">{layer.number}</text>'
        )  # fmt: skip
    return "".join(drawn)


def _rules(design: BuildUp, depths: BuildUpDepths, scale: _Scale) -> str:
    """Measure frame, rebate, collar and screw below the drawing."""
    frame, lip = design.frame_mm, design.frame_mm - design.rebate_mm
    rules: list[list[tuple[float, float, str]]] = [
        [(0.0, frame, f"frame {frame:g} mm")],
        [(lip, frame, f"rebate {design.rebate_mm:g} mm")],
        [],
    ]
    if depths.collar_mm:
        rules[1].append((frame, frame + depths.collar_mm, f"collar {depths.collar_mm:g}"))
    if depths.longest_screw_mm is not None:
        tip = SCREW_TIP_TO_FACE_MM
        rules[2] = [
            (0.0, tip, f"{tip:g}"),
            (tip, tip + depths.longest_screw_mm, f"screw {depths.longest_screw_mm:g} mm"),
        ]
    drawn = []
    for line, marks in enumerate(rules):
        y = FIRST_RULE + line * RULE_STEP
        for start, end, text in marks:
            x0, x1 = scale.x(start), scale.x(end)
            room = 7.0 * len(text)
            x, anchor = ((x0 + x1) / 2, "middle") if x1 - x0 > room else (min(x1 + 4, WIDTH - room), "start")
            drawn.append(
                f'<path d="M{x0:.1f} {y - 5}V{y + 5}M{x1:.1f} {y - 5}V{y + 5}M{x0:.1f} {y}H{x1:.1f}" '
                f'stroke="{theme.INK}" stroke-width=".9"/>'
                f'<text x="{x:.1f}" y="{y + (15 if anchor == "middle" else 4):.1f}" text-anchor="{anchor}" '
                f'font-size="12">{text}</text>'
            )
    bar = SCALE_MM * scale.px_per_mm
    drawn.append(
        f'<path d="M{WIDTH - 12 - bar:.1f} {HEIGHT - 6}h{bar:.1f}" stroke="{theme.INK}" stroke-width="3"/>'
        f'<text x="{WIDTH - 16 - bar:.1f}" y="{HEIGHT - 2}" text-anchor="end" font-size="12">{SCALE_MM} mm</text>'
    )
    return "".join(drawn)


def _steps(first: float, last: float, step: float) -> list[float]:
    return [first + step * place for place in range(int(max(last - first, 0) // step) + 1)]
