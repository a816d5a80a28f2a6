"""The pictures of the Methods page in words: their captions, and what they show to those who hear the page."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One picture in words."""

    caption: str
    description: str


PICTURES = {
    "step-response": Told(
        caption="An invented frame after a lasting step in its room: air and quick board follow within days, the "
        "panel holds the rest back for weeks. Dashed: one store of the same half-time.",
        description="Share of a step that has come in, against days: quick at first, then slower than a single "
        "exponential; both curves cross one half at the half-time.",
    ),
    "gains": Told(
        caption="The same frame: how much of a swing in the room comes in, by the length of the swing. Days are "
        "damped, seasons pass. Dashed: one store of the same half-time.",
        description="Share of a swing that comes in, against its period from half a day to two years on a "
        "logarithmic axis: small for a day, near all for a year.",
    ),
    "seal-scan": Told(
        caption="The seal check on the same frame with gaps that began to leak. For every date, how much better a "
        "changed leak explains the readings than a sound frame. A change counts only above the dashed line.",
        description="Log likelihood ratio against date: a peak far above the "
        "threshold at the date on which the leak grew.",
    ),
    "fan": Told(
        caption="The same frame without the leak: what was recorded, the fan of eight courses in ten with its median, "
        "and what came afterwards, which the forecast did not see.",
        description="Humidity inside against date: a recorded line, a fan that opens from its end, and the line of "
        "what came.",
    ),
}
