"""Every component id of the pages."""

URL = "url"
CONTENT = "content"
PAGE_TITLE = "page-title"
ARRIVED = "arrived"
NAVIGATION = "navigation"
NOTICE = "notice"
WORK_ENDED = "work-ended"  # set when long work has ended: the page is built again

FRAMES_SEARCH = "frames-search"
FRAMES_STANDINGS = "frames-standings"
FRAMES_ROOM = "frames-room"
FRAMES_SORT = "frames-sort"
FRAMES_LIST = "frames-list"
FRAMES_DATA = "frames-data"
FRAMES_ADDRESS = "frames-address"

FRAME_ID = "frame-id"
FRAME_ADDRESS = "frame-address"
FRAME_WINDOW = "frame-window"  # the stretch of the record shown [s since 1970]
FRAME_PERIOD = "frame-period"
FRAME_EARLIER = "frame-earlier"
FRAME_LATER = "frame-later"
FRAME_RECORD = "frame-record"
FRAME_WINDOW_WORDS = "frame-window-words"
FRAME_EXCURSIONS = "frame-excursions"
FRAME_EXCURSIONS_DATA = "frame-excursions-data"
FRAME_EXCURSIONS_DRAWN = "frame-excursions-drawn"
FRAME_ASKED = "frame-asked"  # an excursion to look at: start, end [s since 1970]
FRAME_SEASON = "frame-season"
FRAME_DEW_POINT = "frame-dew-point"
