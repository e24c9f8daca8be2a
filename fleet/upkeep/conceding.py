"""How long a concession holds: cut short by its ceiling and by missed re-checks. Pure."""

import datetime as dt
from collections.abc import Iterable
from typing import NamedTuple

from fleet.upkeep.due import later

Days = tuple[dt.date, dt.date]  # half-open


class Checked(NamedTuple):
    """A day on which it was looked at whether the terms of a concession held."""

    on: dt.date
    holds: bool


def held_days(
    since: dt.date, until: dt.date, recheck_days: int, checks: Iterable[Checked]
) -> list[Days]:
    """
    Return the days on which a grant from `since` up to `until` holds.

    Granting it counts as the first look. From each look that found the terms kept it
    holds `recheck_days` on, that day included; then it lapses until it is looked at
    again. Found not kept, it ends that day, until a later look finds them kept.
    """
    looks = _looks(since, until, checks)
    held: list[Days] = []
    for at, look in enumerate(looks):
        if not look.holds:
            continue
        broken = [
            later_look.on for later_look in looks[at + 1 :] if not later_look.holds
        ]
        ends = min(until, later(look.on, recheck_days + 1), *broken[:1])
        if look.on >= ends:
            continue
        if held and look.on <= held[-1][1]:
            held[-1] = held[-1][0], max(held[-1][1], ends)
        else:
            held.append((look.on, ends))
    return held


def recheck_due(
    since: dt.date, until: dt.date, recheck_days: int, checks: Iterable[Checked]
) -> dt.date:
    """Return the last day by which a grant must be looked at again to go on holding."""
    last = _looks(since, until, checks)[-1]
    return later(last.on, recheck_days) if last.holds else last.on


def _looks(since: dt.date, until: dt.date, checks: Iterable[Checked]) -> list[Checked]:
    """Return the looks that count, in order; of one day, that which found most wrong."""
    within = [check for check in checks if since <= check.on < until]
    return [
        Checked(since, holds=True),
        *sorted(within, key=lambda check: (check.on, not check.holds)),
    ]
