"""Fields and form pieces: dates as a workshop knows them, and forms sent only once."""

import datetime as dt
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.forms.renderers import DjangoTemplates
from django.forms.utils import ErrorList
from django.utils.functional import cached_property

from fleet.engineering.calendar import Moment, Precision

Latest = dt.date | Callable[[], dt.date] | None

MOMENT_HELP = (
    "As closely as it is known: 2019-05-03, 2019-05, 2019-Q2, 2019 or unknown."
)
TIME_HELP = "Leave the time empty if it is not known."


class RegisterRenderer(DjangoTemplates):
    """Django's own renderer with this register's markup of a form and of a field."""

    form_template_name = "ui/form.html"
    field_template_name = "ui/field.html"

    @cached_property
    def engine(self) -> Any:
        """Return an engine that finds both Django's widgets and our own markup."""
        pages: list[Path] = list(settings.TEMPLATES[0]["DIRS"])  # type: ignore[call-overload]  # stubs: object
        widgets = Path(forms.__file__).parent / "templates"
        options = {"NAME": "forms", "OPTIONS": {}}
        return self.backend({"APP_DIRS": True, "DIRS": [*pages, widgets], **options})


class _Parts(forms.MultiWidget):
    """A day and a time of day side by side, told apart for a screen reader."""

    template_name = "ui/parts.html"
    use_fieldset = True

    def __init__(self, day: forms.Widget) -> None:
        day.attrs.setdefault("aria-label", "Date")
        time = forms.TimeInput(format="%H:%M", attrs={"type": "time"})
        time.attrs["aria-label"] = "Time, if known"
        super().__init__({"day": day, "time": time})

    def get_context(self, *args: Any, **named: Any) -> dict[str, Any]:
        """Never let the browser insist on a time: it may not be known."""
        context: dict[str, Any] = super().get_context(*args, **named)
        context["widget"]["subwidgets"][1]["attrs"].pop("required", None)
        return context

    def decompress(self, value: Any) -> list[Any]:
        """Take a moment apart into the text of its day and its time."""
        if not isinstance(value, Moment):
            return [value, None]
        return [written(value), value.at]


class MomentWidget(_Parts):
    """A date written as closely as it is known, and an optional time."""

    def __init__(self) -> None:
        """Hold a text field and a time field."""
        super().__init__(forms.TextInput(attrs=_text_attrs()))


class DayAndTimeWidget(_Parts):
    """A known day, and a time that may be left empty."""

    def __init__(self) -> None:
        """Hold the browser's own date and time fields."""
        super().__init__(forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))


class MomentField(forms.Field):
    """
    A date as closely as it is known; cleans to a Moment, or None where left empty.

    A precise day may carry a time where `with_time`. `latest`, a day or a function that
    returns one, refuses what lies wholly after it. "unknown" is an answer unless
    `allow_unknown` is off. Error codes: invalid, future, time_without_day, unknown.
    """

    latest: Latest
    default_error_messages = {
        "required": "Enter a date, or unknown.",
        "future": "This lies after %(latest)s. Enter a date that has been.",
        "unknown": "A date is needed here, if only the year.",
        "time_without_day": "A time needs the exact day. Enter the day, or no time.",
        "time": "Enter the time as 14:30, or leave it empty.",
    }

    def __init__(
        self,
        *,
        with_time: bool = False,
        latest: Latest = None,
        allow_unknown: bool = True,
        **options: Any,
    ) -> None:
        """Set the limits; `options` are those of any field."""
        self.with_time = with_time
        self.latest = latest
        self.allow_unknown = allow_unknown
        options.setdefault("widget", self._widget())
        options.setdefault("help_text", self._help())
        super().__init__(**options)

    def _widget(self) -> forms.Widget:
        return MomentWidget() if self.with_time else forms.TextInput(_text_attrs())

    def _help(self) -> str:
        return f"{MOMENT_HELP} {TIME_HELP}" if self.with_time else MOMENT_HELP

    def prepare_value(self, value: Any) -> Any:
        """Show a moment as it would be written."""
        if isinstance(value, Moment) and not isinstance(self.widget, _Parts):
            return written(value)
        return value

    def clean(self, value: Any) -> Moment | None:
        """Return the moment that was written, within the limits."""
        day, time = value if isinstance(value, list) else (value, None)
        text = str(day or "").strip()
        if not text:
            self._refuse_empty(time)
            return None
        moment = self._with_time(self._read(text), str(time or "").strip())
        self._check(moment)
        return moment

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Say whether something else was written than was offered."""
        offered = written(initial) if isinstance(initial, Moment) else (initial or "")
        day, time = data if isinstance(data, list) else (data, None)
        at = initial.at if isinstance(initial, Moment) else None
        noted = f"{at:%H:%M}" if at else ""
        return (offered, noted) != (str(day or "").strip(), str(time or "").strip())

    def _refuse_empty(self, time: Any) -> None:
        if time:
            raise self._error("time_without_day")
        if self.required:
            raise self._error("required")

    def _read(self, text: str) -> Moment:
        try:
            return Moment.parse(text)
        except ValueError as error:
            raise ValidationError(str(error), code="invalid") from None

    def _with_time(self, moment: Moment, time: str) -> Moment:
        if not time:
            return moment
        if moment.precision is not Precision.DAY or moment.earliest is None:
            raise self._error("time_without_day")
        try:
            return Moment.on(moment.earliest, dt.time.fromisoformat(time))
        except ValueError:
            raise self._error("time") from None

    def _check(self, moment: Moment) -> None:
        if moment.earliest is None:
            if not self.allow_unknown:
                raise self._error("unknown")
            return
        latest = self.latest() if callable(self.latest) else self.latest
        if latest and moment.earliest > latest:
            raise self._error("future", latest=f"{latest.day} {latest:%b %Y}")

    def _error(self, code: str, **values: str) -> ValidationError:
        return ValidationError(self.error_messages[code], code=code, params=values)


class DayAndTimeField(MomentField):
    """A known day with an optional time, by the browser's own date and time fields."""

    default_error_messages = {"required": "Enter the day."}

    def __init__(self, *, latest: Latest = None, **options: Any) -> None:
        """Set the latest day allowed; `options` are those of any field."""
        options.setdefault("help_text", TIME_HELP)
        super().__init__(with_time=True, latest=latest, allow_unknown=False, **options)

    def _widget(self) -> forms.Widget:
        return DayAndTimeWidget()

    def _read(self, text: str) -> Moment:
        moment = super()._read(text)
        if moment.precision is not Precision.DAY:
            message = "Enter the exact day, as 2019-05-03."
            raise ValidationError(message, code="invalid")
        return moment


class SubmissionForm(forms.Form):
    """A form that carries a number of its own, so that sending it twice counts once."""

    submission = forms.UUIDField(
        widget=forms.HiddenInput, initial=uuid.uuid4, required=False
    )

    def clean_submission(self) -> uuid.UUID:
        """Return the number sent, or a new one where a client sent none."""
        sent: uuid.UUID | None = self.cleaned_data.get("submission")
        return sent or uuid.uuid4()


def written(moment: Moment) -> str:
    """Return a moment's day as it would be typed into the field."""
    first = moment.earliest
    if first is None:
        return "unknown"
    match moment.precision:
        case Precision.DAY:
            return first.isoformat()
        case Precision.MONTH:
            return f"{first:%Y-%m}"
        case Precision.QUARTER:
            return f"{first.year}-Q{(first.month + 2) // 3}"
        case _:
            return str(first.year)


def add_refusal(form: forms.BaseForm, refusal: ValidationError) -> None:
    """Show what a service refused: beside the fields it names, else above the form."""
    if not hasattr(refusal, "error_dict"):
        form.add_error(None, refusal)
        return
    for name, errors in refusal.error_dict.items():
        form.add_error(name if name in form.fields else None, ErrorList(errors).data)


def _text_attrs() -> dict[str, str]:
    return {"autocomplete": "off", "spellcheck": "false", "placeholder": "2019-05-03"}
