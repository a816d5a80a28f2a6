"""What the figures mean, where they come from, and what they must not be used for."""

from __future__ import annotations

from typing import NamedTuple

from dash import Dash, html

from isohume.analysis.data_quality import rules_in_words as data_rules
from isohume.analysis.frame import Limits
from isohume.analysis.results import Standing
from isohume.analysis.standing import rules_in_words as standing_rules
from isohume.dashboard.components.blocks import aria, section, table
from isohume.dashboard.components.glyphs import data_sign, standing_sign

TITLE = "Methods"


class Method(NamedTuple):
    """How one figure is worked out."""

    anchor: str
    name: str
    formula: str
    meaning: tuple[str, ...]
    source: str


METHODS = (
    Method(
        "hours",
        "Hours outside the band",
        "outside = strictly below the low limit, or strictly above the high one",
        (
            (
                "The record is taken as straight lines between readings, and crossings are interpolated. A stretch "
                "between two readings counts as covered when it is no longer than the larger of 1 h and 3 of the "
                "logger’s usual steps (plus 1 %). Covered hours stand beside every figure."
            ),
            (
                "Three figures stand together: outside as read; outside beyond doubt, farther than the logger’s "
                "expanded uncertainty (k = 2; 3 %RH for a logger without calibration); possibly outside, that is not "
                "certainly inside."
            ),
            (
                "An excursion is one run outside on one side; runs less than 1 h apart count as one, whose hours are "
                "its time outside."
            ),
        ),
        "Own definition. The 3 %RH are common practice for a capacitive sensor without calibration.",
    ),
    Method(
        "ratio",
        "Buffering ratio",
        "ratio = standard deviation in the room ÷ standard deviation inside, on one scale of time",
        (
            (
                "Day to day: readings less their centred 24-h mean. Week to week: the 24-h mean less the 30-day mean."
                " Season to season: the 30-day mean. 1 is no buffering, larger is better."
            ),
            (
                "Noise of the sensor is taken out; where no more than noise is left inside, the ratio reads “at "
                "least”. In a tight frame most of the daily swing follows temperature, so the daily ratio is also "
                "given with that part taken out."
            ),
            (
                "Intervals come from a moving-block bootstrap with blocks of 5 and 30 days. One year holds too few "
                "independent seasons, so the seasonal ratio has none."
            ),
        ),
        "The 30-day mean as seasonal cycle follows EN 15757:2010 (from memory). Block bootstrap: Künsch "
        "(1989), Annals of Statistics 17 (from memory).",
    ),
    Method(
        "drift",
        "Seasonal drift",
        "departure = 30-day mean inside − humidity at which the panel was conditioned",
        (
            (
                "The slope of the last 60 days is the median of all slopes between daily means. With 300 days or "
                "more, a yearly wave is fitted inside and in the room: its swing, its lowest date, how much comes in "
                "and how late."
            ),
            "A course from 50 to 40 %RH over a heated winter, back in summer, is common practice and usually borne.",
        ),
        "Sen (1968), Journal of the American Statistical Association 63, 1379–1389.",
    ),
    Method(
        "exchange",
        "Exchange with the room",
        "dx/dt = k(T) · (u + b − x) / τ",
        (
            (
                "x is the humidity inside, u the humidity the room’s vapour would have at the inside temperature, b "
                "the offset between the two loggers, τ the time constant, k(T) the ratio of saturation concentrations"
                " at the present and the mean temperature. A second store stands for the panel, slower than air and "
                "board."
            ),
            (
                "The half-time is the first moment at which half of a step from 50 to 40 %RH has come in. Where the "
                "record cannot tell it, the page says why, and what it is at least or at most."
            ),
        ),
        "Design of this program; the one-store form is the hygrometric half-time of Thomson (1977), Studies "
        "in Conservation 22 (from memory).",
    ),
    Method(
        "emc",
        "Moisture and movement of the panel",
        "ΔD = D · C · ΔMC",
        (
            (
                "MC is the equilibrium moisture content at a humidity and temperature, D the width across the grain, "
                "C the coefficient of the species and cut. The same panel is also reckoned unframed in its room, so "
                "that the benefit of the frame is a number of millimetres."
            ),
            (
                "Nothing is said for a species or cut that is not known, and no comfort is given for a panel that is "
                "cradled, battened or framed tight: held wood cracks or sets instead of moving."
            ),
        ),
        "Wood Handbook, FPL-GTR-282 (2021): equation 4-5 and the table of dimensional change coefficients.",
    ),
    Method(
        "dew",
        "Dew point and damp",
        "margin = coldest measured surface − dew point of the air beside it",
        (
            (
                "Without a measured surface the margin cannot be said. Hours above 65 and 75 %RH are counted because "
                "mould can grow in damp that lasts."
            ),
        ),
        "Saturation pressure: Hyland & Wexler (1983) as in ASHRAE Fundamentals (2017), chapter 1, equation 6.",
    ),
)
CAUTIONS = (
    "A standing is information for a conservator. It names who may open the frame and never orders a treatment.",
    (
        "Glass and heavy frames, ladders, dust and indicator salts of silica gel, mould, and residues of old "
        "pesticides can hurt. Handle them by your local rules."
    ),
    "Water goes to the board or buffer outside the frame, never to the panel.",
    "The loan contract and the lender’s instructions prevail over any figure here.",
    "A logger measures the air where it hangs, with its own error; a figure is no better than its record.",
)


def layout(**_query: str) -> html.Div:
    """Build the page."""
    limits = Limits()
    parts = (("standing", "Standing"), ("record-quality", "Record"), *((m.anchor, m.name) for m in METHODS))
    return html.Div(
        [
            html.Div(
                [
                    html.H1("Methods"),
                    html.P("What each figure means, where it comes from, and what it does not say.", className="lede"),
                ],
                className="page-head",
            ),
            html.Div(
                [
                    html.Nav(
                        [html.A(name, href=f"#{anchor}") for anchor, name in (*parts, ("cautions", "Cautions"))],
                        className="parts",
                        **aria(label="Parts of this page"),
                    ),
                    html.Div(
                        [_standing(limits), _record(limits), *(_method(method) for method in METHODS), _cautions()],
                        className="sections",
                    ),
                ],
                className="with-parts",
            ),
        ],
        className="page methods-page",
    )


def _standing(limits: Limits) -> html.Section:
    rows = [
        [
            html.Span([standing_sign(Standing(name=name), size=22), html.Span(name)], className="with-sign"),
            rule,
            html.Span(when, className="long"),
        ]
        for _, name, rule, when in standing_rules(limits)
    ]
    return section(
        "standing",
        "Standing: what a frame needs",
        table(
            ["Standing", "Rule", "Fires when"], rows, caption="Read from the top; the first match names the standing"
        ),
        lede="All matches are listed on the frame’s page. The limits are the defaults; each can be set per frame.",
    )


def _record(limits: Limits) -> html.Section:
    rows = [
        [html.Span([data_sign(name), html.Span(name)], className="with-sign"), rule, html.Span(when, className="long")]
        for name, rule, when in data_rules(limits)
    ]
    return section(
        "record-quality",
        "How good the record is",
        table(["Record", "Rule", "Fires when"], rows, caption="A record on which no rule fires is sound"),
        lede="A poor record never hides a standing: both are shown side by side.",
    )


def _method(method: Method) -> html.Section:
    return section(
        method.anchor,
        method.name,
        html.P(method.formula, className="formula"),
        *(html.P(text, className="prose") for text in method.meaning),
        html.P(method.source, className="remark"),
    )


def _cautions() -> html.Section:
    return section("cautions", "Cautions", html.Ul([html.Li(text) for text in CAUTIONS], className="prose cautions"))


def register(app: Dash) -> None:
    """Nothing on this page answers."""
    del app
