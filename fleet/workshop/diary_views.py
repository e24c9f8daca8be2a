"""Pages of the running diary: by month, beside what will be fit, and from a sheet."""

import calendar
import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core import signing
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet.engineering.calendar import LATEST_DAY, add_months
from fleet.people.access import needs, signed_in
from fleet.records.clock import today
from fleet.records.deeds import submitted
from fleet.records.models import Channel
from fleet.records.views import filled, recorded
from fleet.register.vocabulary import System
from fleet.ui.forms import add_refusal
from fleet.workshop.capacity import week_of
from fleet.workshop.cover import covers
from fleet.workshop.diary_forms import (
    Known,
    Looked,
    SeenForm,
    SheetForm,
    frozen,
    look_through,
    thawed,
)
from fleet.workshop.diary_sheet import COLUMNS, example_csv, example_xlsx, read_sheet
from fleet.workshop.importing import import_lines, marks
from fleet.workshop.models import DiaryLineVersion
from fleet.workshop.month_drawing import month_strip
from fleet.workshop.naming import type_names, vehicle_numbers
from fleet.workshop.showing import span_words, weekday_words

MONTHS = 3  # on one page
WEEKS = 13  # that are held against the board
FIRST_YEAR = 1900
SALT = "workshop.diary"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True, slots=True)
class Shown:
    """A line as a month lists it."""

    line: DiaryLineVersion
    when: str
    wanted: str
    system: str
    strip: str


def diary(request: HttpRequest) -> HttpResponse:
    """Show the diary month by month, and where the board says it will be short."""
    begin = _month(request.GET.get("from", ""))
    end = add_months(begin, MONTHS)
    last = end - dt.timedelta(days=1)
    lines = list(DiaryLineVersion.objects.between(begin, last))
    names = _Names.of(lines)
    starts = [add_months(begin, n) for n in range(MONTHS)]
    found = covers(week_of(today()), WEEKS)
    short = sorted((c for c in found if c.short), key=lambda c: c.monday)
    context = {
        "months": [(start, _in_month(lines, names, start)) for start in starts],
        "short": short[:10],
        "wanted": bool(found),
        "more": max(0, len(short) - 10),
        "weeks": WEEKS,
        "before": add_months(begin, -MONTHS),
        "after": end,
    }
    return render(request, "workshop/diary.html", context)


def cover(request: HttpRequest) -> HttpResponse:
    """Show what each line wants and what will be fit, week by week."""
    found = covers(week_of(today()), WEEKS)
    names = _Names.of([c.line for c in found])
    by_line: dict[int, list[Any]] = {}
    for one in found:
        by_line.setdefault(one.line.pk, []).append(one)
    context = {
        "lines": [(_shown(rows[0].line, names), rows) for rows in by_line.values()],
        "weeks": WEEKS,
    }
    return render(request, "workshop/cover.html", context)


@needs("plan_work")
def diary_import(request: HttpRequest) -> HttpResponse:
    """Look through a sheet; write nothing."""
    posted = request.method == "POST"
    form = SheetForm(request.POST, request.FILES) if posted else SheetForm()
    context: dict[str, Any] = {"form": form, "columns": COLUMNS}
    looked = _looked(form) if form.is_bound and form.is_valid() else None
    if looked is not None:
        context |= _told(looked)
    return render(request, "workshop/diary_import.html", context)


@needs("plan_work")
def diary_write(request: HttpRequest) -> HttpResponse:
    """Write the rows that were looked at, all or none."""
    if request.method != "POST":
        return redirect("workshop:diary-import")
    user = signed_in(request)
    form = filled(SeenForm, request)
    rows: list[dict[str, Any]] = []

    def write() -> None:
        rows.extend(_unsealed(form.cleaned_data["rows"]))
        with submitted(uuid=form.cleaned_data["submission"], channel=Channel.IMPORT):
            import_lines(by=user, lines=[thawed(row) for row in rows])

    if recorded(form, write):
        one = len(rows) == 1
        said = "1 line is" if one else f"{len(rows) or 'All'} lines are"
        messages.success(request, f"{said} in the diary.")
        return redirect("workshop:diary")
    context = {"form": SheetForm(), "columns": COLUMNS, "refused": form}
    return render(request, "workshop/diary_import.html", context)


def diary_example(request: HttpRequest, kind: str) -> HttpResponse:
    """Hand out an example of a sheet."""
    data, content = {
        "csv": (example_csv, "text/csv; charset=utf-8"),
        "xlsx": (example_xlsx, XLSX),
    }[kind]
    answer = HttpResponse(data(), content_type=content)
    answer["Content-Disposition"] = f'attachment; filename="diary.{kind}"'
    return answer


@dataclass(slots=True)
class _Names:
    """What lines point at, by name."""

    types: dict[int, str]
    vehicles: dict[int, str]

    @classmethod
    def of(cls, lines: list[DiaryLineVersion]) -> "_Names":
        keys = {line.vehicle_id for line in lines if line.vehicle_id is not None}
        return cls(type_names(), vehicle_numbers(keys))

    def wanted(self, line: DiaryLineVersion) -> str:
        if line.vehicle_id is not None:
            return self.vehicles.get(line.vehicle_id, "a vehicle that is gone")
        if line.vehicle_type_id is not None:
            name = self.types.get(line.vehicle_type_id, "")
            return f"{line.vehicles} of type {name}"
        return f"{line.vehicles} of any type"


def _month(text: str) -> dt.date:
    """Return the first day of the month asked for; this month where none is."""
    try:
        month = dt.date.fromisoformat(f"{text}-01")
    except ValueError:
        month = today().replace(day=1)
    return (
        month if FIRST_YEAR < month.year < LATEST_DAY.year else today().replace(day=1)
    )


def _in_month(
    lines: list[DiaryLineVersion], names: _Names, start: dt.date
) -> list[Shown]:
    last = start.replace(day=calendar.monthrange(start.year, start.month)[1])
    return [
        _shown(line, names, month_strip(line, start, last))
        for line in lines
        if next(line.running_days(start, last), None) is not None
    ]


def _shown(line: DiaryLineVersion, names: _Names, strip: str = "") -> Shown:
    when = f"{span_words(line.first, line.last)}, {weekday_words(line.weekdays)}"
    system = System(line.system).label.lower()
    return Shown(line, when, names.wanted(line), system, strip)


def _looked(form: SheetForm) -> Looked | None:
    file = form.cleaned_data["file"]
    try:
        rows = read_sheet(file.name or "", file.read())
    except ValidationError as refusal:
        add_refusal(form, refusal)
        return None
    return look_through(rows, marks(dt.date.min, dt.date.max), Known.now())


def _told(looked: Looked) -> dict[str, Any]:
    names = _Names.of([DiaryLineVersion(**facts) for _, facts in looked.new])
    rows = [
        (number, _shown(DiaryLineVersion(**facts), names))
        for number, facts in looked.new
    ]
    told: dict[str, Any] = {"looked": looked, "rows": rows}
    if looked.new and not looked.wrong:
        sealed = signing.dumps(
            [frozen(facts) for _, facts in looked.new], salt=SALT, compress=True
        )
        told["seen"] = SeenForm(initial={"rows": sealed})
    return told


def _unsealed(text: str) -> list[dict[str, Any]]:
    try:
        rows: list[dict[str, Any]] = signing.loads(text, salt=SALT, max_age=3_600)
    except signing.BadSignature:
        raise ValidationError(
            "It was looked at more than an hour ago. Send the sheet again.",
            code="looked_at_too_long_ago",
        ) from None
    return rows
