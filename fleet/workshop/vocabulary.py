"""Words of the workshop. Pure."""

from fleet.register.vocabulary import Word


class Place(Word):
    """Where a job must stand. A pit also does for a job that needs a road."""

    ANYWHERE = "anywhere", "Anywhere"
    ROAD = "road", "Shop road"
    PIT = "pit", "Pit"


class Wish(Word):
    """What a pin says of its weeks."""

    AT = "at", "Begins in one of these weeks"
    NOT_IN = "not in", "Not in the shop in these weeks"


class Each(Word):
    """What hours are counted for."""

    WEEK = "week", "each week"
    DAY = "day", "each of its days"
    ONCE = "once", "in all, spread over its weeks"


class GoesOn(Word):
    """How the forecast lets usage go on."""

    LATE = "late", "As of late"
    DIARY = "diary", "By the diary"


class RunState(Word):
    """How far the search for a programme has got."""

    WAITING = "waiting", "Waiting to start"
    RUNNING = "running", "Searching"
    DONE = "done", "Finished"
    STOPPED = "stopped", "Stopped by hand"
    FAILED = "failed", "Failed"


def many(number: int, word: str) -> str:
    """Return a number of things in words: "1 week", "8 weeks"."""
    return f"{number} {word}{'' if number == 1 else 's'}"
