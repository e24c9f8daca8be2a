"""The hours each week asks for, beside those there are."""

import datetime as dt
from collections.abc import Mapping, Sequence

from fleet.people.models import Skill
from fleet.ui.week_bars import Week
from fleet.workshop.engine.problem import Capacity
from fleet.workshop.vocabulary import many


def weeks_of(
    load: Mapping[dt.date, Mapping[str, int]],
    capacity: Capacity | None = None,
    skill: str = "",
) -> list[Week]:
    """
    Return the weeks of a load, in all or of one skill, beside the capacity if known.

    The capacity begins in the first week of the load.
    """
    return [
        Week(
            monday,
            sum(n for named, n in hours.items() if skill in ("", named)),
            _there(capacity, number, skill),
        )
        for number, (monday, hours) in enumerate(load.items())
    ]


def _there(capacity: Capacity | None, week: int, skill: str) -> int | None:
    if capacity is None:
        return None
    if week in capacity.closed:
        return 0
    named = [skill] if skill else list(capacity.hours)
    series = (capacity.hours.get(one, ()) for one in named)
    return sum(hours[week] for hours in series if week < len(hours))


def load_words(weeks: Sequence[Week]) -> str:
    """Return a load told in words: in all, the heaviest weeks, those beyond what is there."""
    heavy = sorted((w for w in weeks if w.asked), key=lambda w: -w.asked)[:3]
    over = [week for week in weeks if week.over]
    asked = many(sum(w.asked for w in weeks), "hour")
    parts = [f"{asked} in {many(len(weeks), 'week')}"]
    parts += [week.words for week in heavy]
    if over:
        verb = "asks" if len(over) == 1 else "ask"
        parts.append(f"{many(len(over), 'week')} {verb} for more than there is")
    return ". ".join(parts) + "."


def skills_of(load: Mapping[dt.date, Mapping[str, int]]) -> list[tuple[str, str]]:
    """Return the skills a load asks for, with their words."""
    named = {skill for hours in load.values() for skill in hours}
    return [(skill, label) for skill, label in Skill.choices if skill in named]
