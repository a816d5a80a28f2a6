"""The words of the papers: one TOML file per language; a translation stands beside `en.toml` with the same keys."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
DEFAULT_LANGUAGE = "en"


@dataclass(frozen=True, slots=True)
class Words:
    """The words of one language for one kind of paper.

    Attributes
    ----------
    language : str
        As in the file's name.
    texts : mapping
        Labels, sentences with {figures} to fill in, and lists of paragraphs.
    """

    language: str
    texts: Mapping[str, Any]

    def __call__(self, key: str, **figures: object) -> str:
        """Return one text with its figures filled in; the figures themselves are never read as a pattern.

        Raises
        ------
        KeyError
            The language lacks the text.
        """
        text: str = self.texts[key]
        return text.format(**figures) if figures else text

    def paragraphs(self, key: str, **figures: object) -> list[str]:
        """Return a list of paragraphs."""
        return [text.format(**figures) if figures else text for text in self.texts[key]]

    def labels(self) -> dict[str, str]:
        """Return what a template may use by itself: the table `labels`."""
        return dict(self.texts["labels"])


@cache
def words(paper: str, language: str = DEFAULT_LANGUAGE) -> Words:
    """Return the words of a kind of paper (`evidence`, `review`, …), with those that all papers share."""
    document = tomllib.loads((HERE / f"{language}.toml").read_text(encoding="utf-8"))
    shared, own = document["shared"], document[paper]
    return Words(language, {**shared, **own, "labels": {**shared["labels"], **own.get("labels", {})}})
