"""The visual language in numbers: colours, type and the one template that every figure uses.

The same colours stand in assets/10_tokens.css for the pages; a test keeps the two lists equal.
"""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go

# Okabe & Ito (2008), "Color Universal Design": eight colours that stay apart for colour-blind readers.
BLUE, VERMILION, ORANGE = "#0072B2", "#D55E00", "#E69F00"
BLUISH_GREEN, REDDISH_PURPLE = "#009E73", "#CC79A7"

PAPER, SHEET, INK, QUIET, HAIRLINE = "#F3F1EA", "#FCFBF8", "#1F2528", "#575D60", "#DCD8CD"
ROOM_GREY = "#8A8375"

ROOM_LINE_COLOUR = "#A9A397"  # the same grey, lighter, for lines dense enough to become areas
INSIDE_COLOUR = BLUE  # the subject of every picture
ROOM_COLOUR = ROOM_GREY  # its surroundings
BAND_COLOUR = BLUISH_GREEN
OUTSIDE_BAND_COLOUR = VERMILION
MEAN_COLOUR = INK
FORECAST_COLOUR = REDDISH_PURPLE
INSIDE_VEIL = "rgba(0,114,178,0.18)"  # the 95 % interval of the inside

SANS = "'Source Sans 3 Variable', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif"
SERIF = "'Source Serif 4 Variable', Georgia, 'Times New Roman', serif"

# Each Mantine colour has ten shades, light to dark; ours are mixed from ink and the inside blue.
_INK_SHADES = [
    "#F3F1EA",
    "#E4E2DB",
    "#CDCDC8",
    "#B0B3B1",
    "#8D9293",
    "#6E7476",
    "#575D60",
    "#41484B",
    "#2D3437",
    "#1F2528",
]
_BLUE_SHADES = [
    "#E8F2F9",
    "#CFE4F1",
    "#A3CAE3",
    "#72AED4",
    "#4996C7",
    "#1F81BA",
    "#0072B2",
    "#00609A",
    "#004F80",
    "#003C62",
]

MANTINE_THEME: dict[str, Any] = {
    "fontFamily": SANS,
    "headings": {"fontFamily": SERIF, "fontWeight": "500"},
    "colors": {"ink": _INK_SHADES, "inside": _BLUE_SHADES},
    "primaryColor": "ink",
    "primaryShade": 9,
    "black": INK,
    "white": SHEET,
    "defaultRadius": 2,
    "focusRing": "auto",
    "cursorType": "pointer",
    "fontSizes": {"xs": "0.8125rem", "sm": "0.875rem", "md": "1rem", "lg": "1.1875rem", "xl": "1.5rem"},
}

COLOURWAY = [INSIDE_COLOUR, ROOM_COLOUR, BLUISH_GREEN, REDDISH_PURPLE, ORANGE, VERMILION]

_AXIS: dict[str, Any] = {
    "showgrid": True,
    "gridcolor": "#E9E6DD",
    "gridwidth": 1,
    "zeroline": False,
    "showline": False,
    "ticks": "",
    "automargin": True,
    "tickfont": {"color": QUIET, "size": 12},
    "title": {"font": {"color": QUIET, "size": 12}, "standoff": 8},
}

FIGURE_TEMPLATE = go.layout.Template(
    layout={
        "font": {"family": SANS, "size": 13, "color": INK},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "margin": {"l": 8, "r": 8, "t": 34, "b": 8},
        "xaxis": {**_AXIS, "showgrid": False, "showline": True, "linecolor": HAIRLINE},
        "yaxis": _AXIS,
        "legend": {
            "orientation": "h",
            "yanchor": "bottom",
            "y": 1.01,
            "xanchor": "left",
            "x": 0,
            "font": {"size": 13},
            "bgcolor": "rgba(0,0,0,0)",
            "itemwidth": 30,
        },
        "hoverlabel": {
            "bgcolor": SHEET,
            "bordercolor": HAIRLINE,
            "font": {"family": SANS, "size": 13, "color": INK},
        },
        "hovermode": "x unified",
        "dragmode": "zoom",
        "colorway": COLOURWAY,
    }
)


def new_figure(*, height: int, **layout: Any) -> go.Figure:
    """Start a figure in the house template, `height` pixels high."""
    return go.Figure(layout={"template": FIGURE_TEMPLATE, "height": height, **layout})


def figure_without_readings(text: str) -> go.Figure:
    """Say in the place of a figure why there is none."""
    figure = new_figure(height=160, xaxis={"visible": False}, yaxis={"visible": False}, dragmode=False)
    figure.add_annotation(text=text, showarrow=False, font={"color": QUIET, "size": 15}, xref="paper", yref="paper")
    return figure


def as_plot_text(text: str) -> str:
    """Disarm the markup that Plotly would read in a name or note from data."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
