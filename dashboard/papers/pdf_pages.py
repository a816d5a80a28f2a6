"""Which pages of a PDF differ from another setting of the same paper.

Our typesetter writes every object of a PDF plainly, one after the other, so that the content of each page can be
found without a PDF library. Of a file that is built otherwise nothing is said but that it differs.
"""

from __future__ import annotations

import re

_OBJECT = re.compile(rb"(?:^|\n)(\d+) 0 obj\n(.*?)\nendobj(?=\n)", re.DOTALL)
_PAGES = re.compile(rb"<</Type/Pages/Count \d+/Kids\[([^\]]*)\]")
_REFERENCE = re.compile(rb"(\d+) 0 R")
_CONTENTS = re.compile(rb"/Contents (\d+) 0 R")


def pages_that_differ(expected: bytes, found: bytes) -> list[int] | None:
    """Return the numbers, from 1, of the pages whose content differs.

    Returns
    -------
    list of int or None
        Empty where the difference lies outside the content of pages (fonts, tags, metadata); None where pages cannot
        be told.
    """
    ours, theirs = _contents(expected), _contents(found)
    if ours is None or theirs is None:
        return None
    n_pages = max(len(ours), len(theirs))
    return [
        page + 1
        for page in range(n_pages)
        if (ours[page] if page < len(ours) else None) != (theirs[page] if page < len(theirs) else None)
    ]


def _contents(pdf: bytes) -> list[bytes] | None:
    objects = {int(number): body for number, body in _OBJECT.findall(pdf)}
    tree = next((match for body in objects.values() if (match := _PAGES.match(body))), None)
    if tree is None:
        return None
    contents = []
    for page in _REFERENCE.findall(tree[1]):
        content = _CONTENTS.search(objects.get(int(page), b""))
        if content is None or int(content[1]) not in objects:
            return None
        contents.append(objects[int(content[1])])
    return contents
