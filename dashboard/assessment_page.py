"""One assessment as one self-contained page: no script, no font and no picture from anywhere else."""

from __future__ import annotations

from html import escape

from isohume.analysis.frame import FrameFacts
from isohume.analysis.phrases import moment
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment
from isohume.analysis.wording import CAUTION, in_words
from isohume.dashboard import theme
from isohume.dashboard.record_svg import record_svg

STYLE = f"""
body {{ margin: 0; background: {theme.PAPER}; color: {theme.INK}; font: 16px/1.5 {theme.SANS}; }}
main {{ max-width: 60rem; margin: 0 auto; padding: 2.5rem 1.25rem; }}
h1, h2 {{ font-family: {theme.SERIF}; font-weight: 500; line-height: 1.25; }}
h1 {{ font-size: 1.75rem; margin: 0 0 .25rem; }}
h2 {{ font-size: 1.1875rem; margin: 2rem 0 .25rem; border-top: 1px solid {theme.HAIRLINE}; padding-top: 1rem; }}
p {{ margin: .25rem 0; }} .quiet {{ color: {theme.QUIET}; }}
svg {{ width: 100%; height: auto; margin-top: 1.5rem; }}
footer {{ margin-top: 2.5rem; border-top: 1px solid {theme.HAIRLINE}; padding-top: 1rem; color: {theme.QUIET}; }}
"""


def assessment_page(
    assessment: Assessment,
    *,
    frame: FrameFacts,
    inside: AirRecord | None,
    outside: AirRecord | None,
    files: tuple[str, ...] = (),
) -> str:
    """Return an HTML document with every finding in words and the record as a drawing."""
    zone = frame.time_zone
    title = frame.painting or frame.frame_id or "One frame"
    sections = "".join(
        f"<section><h2>{escape(section.heading)}</h2>"
        + "".join(f"<p>{escape(sentence)}</p>" for sentence in section.sentences)
        + "</section>"
        for section in in_words(assessment, frame=frame)
    )
    drawing = record_svg(inside, outside, band=frame.band, time_zone=zone)
    sources = "".join(f"<p>{escape(file)}</p>" for file in files)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}: isohume assessment</title><style>{STYLE}</style></head><body><main>"
        f"<h1>{escape(title)}</h1>"
        f'<p class="quiet">Assessed as of {escape(moment(assessment.as_of, time_zone=zone))}.</p>'
        f"{drawing}{sections}<footer><p>{escape(CAUTION)}</p>{sources}</footer></main></body></html>\n"
    )
