"""`isohume assess`: the main job on loose files, without an archive."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

from isohume.dashboard.commands.console import ExitCode, json_result, refusals, refuse, remark, result

if TYPE_CHECKING:
    from isohume.analysis.frame import FrameFacts
    from isohume.analysis.results import Assessment
    from isohume.dashboard.loose_files import LooseSide

app = typer.Typer()
SIDES = ("--inside", "--outside")


class ManyFiles(TyperCommand):
    """A command whose `--inside` and `--outside` take every word up to the next option, as a shell's `*.csv` gives."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Repeat the option before each further file, which is how the parser wants it."""
        return super().parse_args(ctx, repeated(args))


def repeated(arguments: list[str]) -> list[str]:
    """Turn `--inside a b` into `--inside a --inside b`."""
    written: list[str] = []
    side = ""
    n_files = 0
    for word in arguments:
        if word.startswith("-") and word != "-":
            side, n_files = (word if word in SIDES else ""), 0
        elif side:
            if n_files:
                written.append(side)
            n_files += 1
        written.append(word)
    return written


@app.command(cls=ManyFiles)
def assess(
    inside: Annotated[
        list[Path], typer.Option(help="Files of the logger inside the frame, one or more.", metavar="FILE...")
    ],
    outside: Annotated[
        list[Path], typer.Option(help="Files of the logger in the room, one or more.", metavar="FILE...")
    ],
    band: Annotated[
        tuple[float, float] | None, typer.Option(help="Agreed band, lowest and highest [%RH].", metavar="LOW HIGH")
    ] = None,
    conditioned: Annotated[
        float | None, typer.Option(help="Humidity at which the panel was conditioned [%RH].", metavar="RH")
    ] = None,
    tz: Annotated[
        str | None,
        typer.Option(help="Time zone of the loggers' clocks, such as Europe/Berlin or +01:00.", metavar="ZONE"),
    ] = None,
    inside_tz: Annotated[
        str | None, typer.Option(help="Time zone of the inside logger's clock, where it is another.", metavar="ZONE")
    ] = None,
    outside_tz: Annotated[
        str | None, typer.Option(help="Time zone of the room logger's clock, where it is another.", metavar="ZONE")
    ] = None,
    inside_channel: Annotated[
        str | None, typer.Option(help="Which channel of the inside files, where they hold several.", metavar="NAME")
    ] = None,
    outside_channel: Annotated[
        str | None, typer.Option(help="Which channel of the room files, where they hold several.", metavar="NAME")
    ] = None,
    answer: Annotated[
        list[str] | None,
        typer.Option(
            help="Answer to a question a file leaves open, such as date_order=day-first.", metavar="KEY=VALUE"
        ),
    ] = None,
    uncertainty: Annotated[
        float, typer.Option(help="Expanded uncertainty (k = 2) of both loggers [%RH].", metavar="RH", min=0)
    ] = 3.0,
    as_of: Annotated[
        str | None,
        typer.Option(
            help="The moment for which findings hold: a date or an ISO time, in --tz or UTC. Default: newest reading.",
            metavar="TIME",
        ),
    ] = None,
    seed: Annotated[int, typer.Option(help="Seed of the bootstrap: same input, same figures.")] = 0,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of sentences.")] = False,
    series: Annotated[bool, typer.Option(help="With --json: the daily course of the forecast too [%RH].")] = False,
    html: Annotated[
        Path | None, typer.Option(help="Also write one self-contained page to this file.", metavar="FILE")
    ] = None,
) -> None:
    """Assess one frame from loose logger files: every finding, no archive needed.

    Prints hours outside the band [h], buffering ratios, seasonal drift [%RH], exchange, dew point [°C], what the frame
    needs and how far the record can be trusted. One file with both sides is given twice, with its channels.

    Example: isohume assess --inside saint_inside.csv --outside gallery_*.csv --band 45 55 --tz Europe/Berlin
    """
    from isohume.analysis.assess import NoOverlapError, NoReadingsError
    from isohume.analysis.assess import assess as make_findings
    from isohume.dashboard.loose_files import NothingReadError, UnsettledError, read_side
    from isohume.dashboard.moments import moment_of, zone_of
    from isohume.ingest.questions import Answers

    with refusals(ValueError, code=ExitCode.USAGE):
        frame = frame_facts(band, conditioned, tz)
        for zone in filter(None, (inside_tz, outside_tz)):
            zone_of(zone)
        moment = None if as_of is None else moment_of(as_of, frame.time_zone)
        answers = Answers.parse(answer or [])
        answers.refuse_unknown()
    with refusals(UnsettledError, NothingReadError):
        sides = {
            side: read_side(
                paths,
                side=side,
                time_zone=zone or tz,
                channel=channel,
                answers=answers,
                uncertainty_percent=uncertainty,
            )
            for side, paths, channel, zone in (
                ("inside", inside, inside_channel, inside_tz),
                ("outside", outside, outside_channel, outside_tz),
            )
        }
    sides["inside"] = doubted_beside(sides["inside"], sides["outside"], frame)
    say_remarks(sides)
    with refusals(NoOverlapError, NoReadingsError):
        found = make_findings(sides["inside"].record, sides["outside"].record, frame=frame, as_of=moment, seed=seed)
    if any(reason.rule == "sides swapped" for reason in found.standing.reasons):
        remark("The sides look swapped: what was given as --inside swings more than --outside.")
    if as_json:
        parameters = {
            "time_zone": tz,
            "inside_tz": inside_tz,
            "outside_tz": outside_tz,
            "as_of": as_of,
            "seed": seed,
            "uncertainty_percent": uncertainty,
        }
        json_result(document(found, frame, sides, parameters, series=series))
    else:
        say(found, frame)
    if html is not None:
        write_page(html, found, frame, sides)
    if any(side.refused for side in sides.values()):
        raise typer.Exit(ExitCode.SOME_REFUSED)


def frame_facts(band: tuple[float, float] | None, conditioned: float | None, time_zone: str | None) -> FrameFacts:
    """Put together what the options say of the frame."""
    from isohume.analysis.frame import FrameFacts
    from isohume.dashboard.moments import zone_of

    if conditioned is not None and not 0 < conditioned < 100:
        raise ValueError(f"Conditioned at {conditioned:g} %RH: a humidity lies between 0 and 100 %RH.")
    zone = "UTC" if time_zone is None else zone_of(time_zone)
    return FrameFacts(band=band, conditioned_percent=conditioned, time_zone=zone)


def doubted_beside(inside: LooseSide, outside: LooseSide, frame: FrameFacts) -> LooseSide:
    """Return the inside with its times doubted, where its days do not go with those of the room."""
    from isohume.ingest.clock_doubt import with_clock_doubted

    record = with_clock_doubted(inside.record, outside.record, site_zone=frame.time_zone)
    more = record.notes[len(inside.record.notes) :]
    return replace(inside, record=record, remarks=(*inside.remarks, *more))


def say_remarks(sides: dict[str, LooseSide]) -> None:
    """Write what was refused and remarked to stderr."""
    for side in sides.values():
        for text in (*side.refused, *side.remarks):
            remark(text)


def say(found: Assessment, frame: FrameFacts) -> None:
    """Print the findings as sentences."""
    from isohume.analysis.phrases import moment
    from isohume.analysis.wording import CAUTION, in_words

    result(f"As of {moment(found.as_of, time_zone=frame.time_zone)}")
    for section in in_words(found, frame=frame):
        result(f"\n{section.heading}")
        for sentence in section.sentences:
            result(f"  {sentence}")
    result(f"\n{CAUTION}")


def document(
    found: Assessment,
    frame: FrameFacts,
    sides: dict[str, LooseSide],
    parameters: Mapping[str, object],
    *,
    series: bool,
) -> dict[str, object]:
    """Return the fixed JSON document."""
    from isohume.dashboard.assessment_json import assessment_document

    return assessment_document(
        found,
        inside=sides["inside"].record,
        outside=sides["outside"].record,
        frame=frame,
        files=(*sides["inside"].files, *sides["outside"].files),
        parameters=parameters,
        with_series=series,
    )


def write_page(path: Path, found: Assessment, frame: FrameFacts, sides: dict[str, LooseSide]) -> None:
    """Write the self-contained page."""
    from isohume.dashboard.assessment_page import assessment_page

    page = assessment_page(
        found,
        frame=frame,
        inside=sides["inside"].record,
        outside=sides["outside"].record,
        files=tuple(
            f"{file.side}: {file.file}, SHA-256 {file.sha256}" for side in sides.values() for file in side.files
        ),
    )
    try:
        path.write_text(page, encoding="utf-8")
    except OSError as error:
        refuse(f"{path}: the page cannot be written ({error.strerror}). Name another file.")
    remark(f"Page written to {path}")
