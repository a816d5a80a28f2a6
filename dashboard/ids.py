"""Every component id of the pages."""

URL = "url"
CONTENT = "content"
PAGE_TITLE = "page-title"
ARRIVED = "arrived"
NAVIGATION = "navigation"
NOTICE = "notice"

FRAMES_SEARCH = "frames-search"
FRAMES_STANDINGS = "frames-standings"
FRAMES_ROOM = "frames-room"
FRAMES_SORT = "frames-sort"
FRAMES_LIST = "frames-list"
FRAMES_SHOW_ALL = "frames-show-all"
FRAMES_ADDRESS = "frames-address"

FRAME_ID = "frame-id"
FRAME_ADDRESS = "frame-address"
FRAME_WINDOW = "frame-window"  # the stretch of the record shown [s since 1970]
FRAME_PERIOD = "frame-period"
FRAME_EARLIER = "frame-earlier"
FRAME_LATER = "frame-later"
FRAME_RECORD = "frame-record"
FRAME_WINDOW_WORDS = "frame-window-words"
FRAME_SEASON = "frame-season"
FRAME_DEW_POINT = "frame-dew-point"


def show_excursion(start: float, end: float) -> dict[str, str]:
    """Name the button that shows one stretch of the record; start and end [s since 1970] travel in the id."""
    return {"type": "show-excursion", "start": f"{start:.0f}", "end": f"{end:.0f}"}
