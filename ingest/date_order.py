"""Which of 03 and 04 is the month: settled by the readings themselves, or not at all.

Evidence, in this order: numbers over 12; rows that would run backwards; steps that would not be even; a record that
would jump by months where the other order runs on in steps.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from isohume.ingest.moments import DAY_US, ORDERS, DateOrder
from isohume.ingest.times import parse_times

# A reading every month is no logger's record: an order that jumps so far, where another does not, is wrong.
FAR_JUMP_US = 20 * DAY_US
FAR_JUMP_RATIO = 3.0
# Garbled rows cost every order about the same; a true order must do better than chance.
CLEAR_SHARE = 0.2

_NUMERIC = re.compile(r"(?<!\d)(\d{1,2})([-/. ]\s?|\s)(\d{1,2})\2(\d{4}|\d{2})(?!\d)")
_NUMERIC_RUN = re.compile(r"^\D{0,4}(\d{6}|\d{8})(?!\d)")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCost:
    """What is wrong with a column of times under one order.

    Attributes
    ----------
    unreadable : int
        Texts that are no date.
    backwards, uneven : int
        Steps against the direction of the record; steps that differ from the commonest.
    path_us : int [µs]
        Sum of all steps, each taken positive.
    """

    unreadable: int
    backwards: int
    uneven: int
    path_us: int


def possible_orders(texts: Sequence[str]) -> tuple[DateOrder, ...]:
    """Return the orders that the way of writing leaves possible; one where it settles the matter.

    Examples
    --------
    >>> possible_orders(["2024-03-04 10:00"]), possible_orders(["03/04/2024 10:00"])
    (('year-first',), ('day-first', 'month-first'))
    """
    numeric = [found for text in texts if (found := _NUMERIC.search(text))]
    if numeric:
        # A minority of such texts is damage in a file that writes its dates otherwise.
        if len(numeric) < len(texts) / 2:
            return ("year-first",)
        if sum(len(found[4]) == 4 for found in numeric) >= len(numeric) / 2:
            return ("day-first", "month-first")
        return ORDERS
    runs = [found for text in texts if (found := _NUMERIC_RUN.match(text))]
    if runs and len(runs) >= len(texts) / 2:
        if all(len(found[1]) == 6 for found in runs):
            return ORDERS
        years = [int(found[1][:4]) for found in runs if len(found[1]) == 8]
        if sum(1900 <= year <= 2199 for year in years) < len(years) / 2:
            return ("day-first", "month-first")
    return ("year-first",)


def settle_order(texts: pl.Series, orders: Sequence[DateOrder], *, with_offset: bool) -> DateOrder | None:
    """Return the order that the times of a record show; None where two fit equally well.

    Parameters
    ----------
    texts : Series of String
        Written times (or dates) in file order.
    orders : sequence of DateOrder
        The orders to choose from.
    with_offset : bool
        The texts carry their offset to UTC.
    """
    if len(orders) == 1:
        return orders[0]
    costs = {
        order: _cost(parse_times(texts, order, with_offset=with_offset, date_alone=True).local) for order in orders
    }
    readable = {order: cost for order, cost in costs.items() if cost.unreadable < len(texts)}
    if not readable:
        return None
    # Better in one respect, and in no other respect worse: then an order is settled.
    settled = [
        order
        for order, cost in readable.items()
        if all(_is_better(cost, other) for name, other in readable.items() if name != order)
    ]
    return settled[0] if len(settled) == 1 else None


def _is_better(cost: OrderCost, other: OrderCost) -> bool:
    for mine, theirs in (
        (cost.unreadable, other.unreadable),
        (cost.backwards, other.backwards),
        (cost.uneven, other.uneven),
    ):
        margin = CLEAR_SHARE * min(mine, theirs)
        if abs(theirs - mine) > margin:
            return mine < theirs
    near, far = min(cost.path_us, other.path_us), max(cost.path_us, other.path_us)
    if far > FAR_JUMP_RATIO * near and far - near > FAR_JUMP_US:
        return cost.path_us == near
    return False


def _cost(local: pl.Series) -> OrderCost:
    unreadable = local.null_count()
    times = local.drop_nulls().to_physical().to_numpy()
    steps = np.diff(times)
    steps = steps[steps != 0]
    if steps.size == 0:
        return OrderCost(unreadable=unreadable, backwards=0, uneven=0, path_us=0)
    direction = 1 if np.median(steps) > 0 else -1
    steps = steps * direction
    # An hour back is the autumn clock change, not an order of day and month.
    backwards = int((steps < -DAY_US // 2).sum())
    values, counts = np.unique(steps, return_counts=True)
    uneven = int(steps.size - counts.max())
    del values
    return OrderCost(unreadable=unreadable, backwards=backwards, uneven=uneven, path_us=int(np.abs(steps).sum()))
