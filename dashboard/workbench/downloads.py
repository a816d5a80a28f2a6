"""The tables and papers of the tools as files; what a file holds is reckoned anew from its address."""

from __future__ import annotations

from flask import Response, request

from isohume.dashboard.exports import csv_bytes, xlsx_bytes
from isohume.dashboard.papers.issue import safe_name
from isohume.dashboard.workbench.fields import Typed
from isohume.dashboard.workbench.part import CannotReckonError, Context, Part, texts_of
from isohume.dashboard.workbench.tools import tool_at

ADDRESS = "/workbench/<slug>/<name>.<kind>"
TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "pdf": "application/pdf",
}
LOST, REFUSED = 404, 409


def download(slug: str, name: str, kind: str) -> Response:
    """Answer with a file, or say in plain words why there is none."""
    tool = tool_at(slug)
    part = None if tool is None else next((one for one in tool.parts if one.key == name), None)
    if tool is None or part is None or kind not in TYPES:
        return _told("The workbench has no such file.", LOST)
    context = Context.now()
    texts, _ = texts_of(part, tool, context, request.args)
    typed = part.read(context, texts)
    if typed.faults:
        named = {one.name: one.label for one in part.fields(context)}
        return _told(" ".join(f"{named[field]}: {fault}" for field, fault in typed.faults.items()), REFUSED)
    try:
        data = _file(part, context, typed, kind)
    except CannotReckonError as error:
        return _told(str(error), REFUSED)
    if data is None:
        return _told("The workbench has no such file.", LOST)
    answer = Response(data, content_type=TYPES[kind])
    answer.headers["Content-Disposition"] = f'attachment; filename="{safe_name(f"{slug} {name}")}.{kind}"'
    return answer


def _file(part: Part, context: Context, typed: Typed, kind: str) -> bytes | None:
    if kind == "pdf":
        return None if part.paper is None else part.paper(context, typed)
    if part.sheets is None:
        return None
    sheets = part.sheets(context, typed)
    return xlsx_bytes(sheets) if kind == "xlsx" else csv_bytes(*next(iter(sheets.values())))


def _told(text: str, status: int) -> Response:
    return Response(text, status=status, content_type="text/plain; charset=utf-8")
