"""Small drawings of the workshop's pages: a month's running days, hours week by week."""

import datetime as dt
from collections.abc import Collection, Sequence

from django.utils.safestring import SafeString

from fleet.ui.drawing import Drawing, Item, Line, Pen, Rect, Text, to_svg
from fleet.ui.palette import INK, INK_SOFT, RULE, SHEET
from fleet.workshop.models import DiaryLineVersion
from fleet.workshop.vocabulary import many

BOX, GAP, HIGH = 9.0, 1.0, 14.0
BAR, TALL, LEFT = 11.0, 60.0, 30.0
SATURDAY = 5


def month_strip(line: DiaryLineVersion, first: dt.date, last: dt.date) -> SafeString:
    """Draw a month as a row of boxes, the running days filled, weekends underlined."""
    runs = set(line.running_days(first, last))
    items: list[Item] = []
    for number in range((last - first).days + 1):
        day, x = first + dt.timedelta(days=number), number * (BOX + GAP)
        fill = INK if day in runs else SHEET
        items.append(Rect(x + 0.5, 0.5, BOX - 1, HIGH - 1, Pen(INK_SOFT, 0.75), fill))
        if day.weekday() >= SATURDAY:
            items.append(Line(x, HIGH + 2.5, x + BOX, HIGH + 2.5, Pen(INK, 1.5)))
    width = last.day * (BOX + GAP)
    words = f"{line.title} runs on {many(len(runs), 'day')} of {first:%B %Y}"
    return to_svg(Drawing(width, HIGH + 4, tuple(items)), title=words, fixed=True)


def hours_bars(
    words: str, hours: Sequence[int], start: dt.date, closed: Collection[int]
) -> SafeString:
    """Draw the hours of one skill as a bar a week; a closed week is crossed out."""
    most = max([*hours, 1])
    width = LEFT + len(hours) * (BAR + GAP)
    items: list[Item] = [
        Line(LEFT, TALL + 12, width, TALL + 12, Pen(INK, 1)),
        Text(LEFT - 4, 20, str(most), 11, "end", INK_SOFT),
        Text(LEFT - 4, TALL + 12, "0", 11, "end", INK_SOFT),
    ]
    month = 0
    for week, there in enumerate(hours):
        x, monday = LEFT + week * (BAR + GAP), start + dt.timedelta(weeks=week)
        high = TALL * there / most
        items.append(Rect(x, TALL + 12 - high, BAR, high, Pen(RULE, 0.5), INK))
        if week in closed:
            items.append(Line(x + 1, 14, x + BAR - 1, TALL + 10, Pen(INK, 1.5)))
            items.append(Line(x + BAR - 1, 14, x + 1, TALL + 10, Pen(INK, 1.5)))
        if monday.month != month:
            month = monday.month
            if x + 22 < width:
                items.append(Text(x, TALL + 25, f"{monday:%b}", 11, "start", INK_SOFT))
    title = f"{words}: hours week by week, at most {most}"
    return to_svg(Drawing(width, TALL + 30, tuple(items)), title=title, fixed=True)
