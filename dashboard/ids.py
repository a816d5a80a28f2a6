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
FRAMES_LOOK = "frames-look"  # while findings are computed

FINDINGS_TOLD = "findings-told"
FINDINGS_LOOK = "findings-look"
FINDINGS_KEY = "findings-key"
FINDINGS_ENDED = "findings-ended"
FINDINGS_SHOW = "findings-show"  # assets/isohume.js names it too
FINDINGS_SHOWN = "findings-shown"
FINDINGS_AGAIN = "findings-again"

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
FRAME_FLAGS = "frame-flags"
FRAME_EVENT_KIND = "frame-event-kind"
FRAME_EVENT_FORM = "frame-event-form"
FRAME_PHOTOGRAPH_TIME = "frame-photograph-time"
FRAME_PHOTOGRAPH_NOTE = "frame-photograph-note"
FRAME_PHOTOGRAPH_CHOOSE = "frame-photograph-choose"  # assets/frame.js names these too
FRAME_PHOTOGRAPH_TOLD = "frame-photograph-told"
FRAME_TERMS = "frame-terms"
FRAME_TERMS_AIR = "frame-terms-air"
FRAME_TERMS_PERIOD = "frame-terms-period"
FRAME_TERMS_RESULT = "frame-terms-result"
FRAME_TERMS_ADDRESS = "frame-terms-address"

WORKBENCH_FIELD = "workbench-field"  # of the pattern ids of what is typed
WORKBENCH_PICK = "workbench-pick"
WORKBENCH_RESULT = "workbench-result"
WORKBENCH_ANSWER = "workbench-answer"  # of the server, with the values it is for: answers may overtake each other
WORKBENCH_BEGUN = "workbench-begun"  # long work of a part has begun: its result is shown again
WORKBENCH_ADDRESS = "workbench-address"
WORKBENCH_KEEP = "workbench-keep"
WORKBENCH_KEPT = "workbench-kept"
WORKBENCH_START = "workbench-start"

MONTH_DATA = "month-data"
MONTH_DRAWN = "month-drawn"
MONTH_AGAIN = "month-again"  # try again what failed
MONTH_SHOWN = "month-shown"  # which figures are on the page
MONTH_NAME = "month-name"
MONTH_TEXT = "month-text"
MONTH_SIGN = "month-sign"
MONTH_SECOND_NAME = "month-second-name"
MONTH_SECOND_NUMBER = "month-second-number"
MONTH_SIGN_SECOND = "month-sign-second"
MONTH_TOLD = "month-told"

LOANS_KEPT = "loans-kept"
LOAN_ID = "loan-id"
LOAN_LEG = "loan-leg"
LOAN_TOLD = "loan-told"
LOAN_ACTED = "loan-acted"
