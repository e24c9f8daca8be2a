"""Tags for what every page says alike: levels, dates, cautions, strips and diagrams."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import template
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from fleet.engineering.calendar import Moment, Precision
from fleet.ui import cautions, nav
from fleet.ui.drawing import to_svg
from fleet.ui.level_shapes import LEVELS, level_mark
from fleet.ui.pipe_diagram import Diagram
from fleet.ui.strip import StripRow, status_strip, strip_words

register = template.Library()

WORDS = {
    "braked": "Fit to run braked",
    "conditional": "Fit braked, with conditions",
    "piped": "Convey as piped",
    "stopped": "Not to run",
    "none": "Not fitted",
    "stale": "Not yet reassessed",
}
# Drawn once: a board shows the same six signs hundreds of times.
_SIGNS = {
    level: mark_safe(  # noqa: S308  # our own drawing
        to_svg(level_mark(level), title=words, css="sign", fixed=True)
        .replace('role="img"', 'aria-hidden="true"')
        .replace(f' aria-label="{words}"', "")
    )
    for level, words in WORDS.items()
}


@register.simple_tag(name="level_mark")
def level_mark_tag(level: Any, words: str = "") -> SafeString:
    """
    Show a level as a shape and a word.

    `level` is a level, its code, or None for a system that is not fitted; `words` are
    shown in place of the usual ones.
    """
    code = str(getattr(level, "code", level) or "none")
    if code not in LEVELS:
        raise template.TemplateSyntaxError(f"not a level: {code}")
    return format_html(
        '<span class="level level-{}">{}<span>{}</span></span>',
        code,
        _SIGNS[code],
        words or WORDS[code],
    )


@register.inclusion_tag("ui/caution.html", name="caution")
def caution_tag(*keys: str) -> dict[str, Any]:
    """Show one caution, or several in one frame, by their keys."""
    return {"cautions": [cautions.caution(key) for key in keys]}


@register.simple_tag(name="moment")
def moment_tag(
    moment: Moment | dt.date | None, empty: str = "\N{EN DASH}"
) -> SafeString:
    """Show a date as closely as it is known; an imprecise one says so to a reader."""
    if moment is None:
        return format_html('<span class="quiet">{}</span>', empty)
    when = moment if isinstance(moment, Moment) else Moment.on(moment)
    if when.precision is Precision.DAY and when.earliest is not None:
        stamp = when.earliest.isoformat() + (f"T{when.at:%H:%M}" if when.at else "")
        return format_html('<time datetime="{}">{}</time>', stamp, str(when))
    return format_html(
        '<span class="imprecise" title="{}">{}</span>', _worst_case(when), str(when)
    )


def _worst_case(when: Moment) -> str:
    if when.earliest is None or when.latest is None:
        return "Not known; counted as the worst it can be"
    span = f"{Moment.on(when.earliest)} to {Moment.on(when.latest)}"
    return f"Some day from {span}; the worse one counts"


@register.inclusion_tag("ui/strip.html", name="strip")
def strip_tag(
    rows: Sequence[StripRow],
    first: dt.date,
    last: dt.date,
    today: dt.date,
    subject: str = "",
    size: str = "board",
) -> dict[str, Any]:
    """
    Show a status strip: `size` "board" for a row of a list, "page" for a page of its own.

    A page's strip is drawn twice, for a wide screen or paper and for a phone.
    """
    title = f"Brake status of {subject}" if subject else "Brake status"
    widths = (360,) if size == "board" else (1120, 360)
    drawn = [
        to_svg(
            status_strip(
                rows,
                first=first,
                last=last,
                today=today,
                width=width,
                labels=width > 360,
            ),
            title=title,
            desc=strip_words(rows),
            css="strip",
        )
        for width in widths
    ]
    return {"wide": drawn[0] if size != "board" else "", "narrow": drawn[-1]}


@register.inclusion_tag("ui/diagram.html", name="diagram")
def diagram_tag(diagram: Diagram, subject: str = "") -> dict[str, Any]:
    """Show a pipe diagram in a frame that scrolls sideways on a phone."""
    title = f"{diagram.title}, {subject}" if subject else diagram.title
    drawn = to_svg(diagram.drawing, title=title, css="pipes", fixed=True)
    return {"diagram": diagram, "drawing": drawn, "title": title}


@register.inclusion_tag("ui/nav.html", name="nav", takes_context=True)
def nav_tag(context: Context) -> dict[str, Any]:
    """Show the main menu for those signed in: a row, or on a phone one button."""
    request = context.get("request")
    user = getattr(request, "user", None)
    if request is None or not getattr(user, "is_authenticated", False):
        return {"entries": []}
    return {"entries": nav.entries(request.path)}


@register.simple_tag
def sign_out_address() -> str:
    """Return where signing out is posted to; "" where there is no such address."""
    return nav.first_address(*nav.SIGN_OUT)


@register.simple_tag
def home_address() -> str:
    """Return the address of the board."""
    return nav.first_address("web:board") or "/"
