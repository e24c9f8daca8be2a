"""The part of a survey line's form: rows of a named point and its thickness."""

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField

from fleet.examination.asking import Asked
from fleet.examination.judging import plain, read_number
from fleet.examination.models import TestRecord, ThicknessReading
from fleet.examination.vocabulary import LineKind

FEWEST_ROWS, SPARE_ROWS, MOST_ROWS = 6, 3, 60
Thickness = tuple[str, Decimal, Decimal]


class SurveyForm(forms.Form):
    """Points and thicknesses of one survey line, as many rows as were shown."""

    rows = forms.IntegerField(
        min_value=1, max_value=MOST_ROWS, required=False, widget=forms.HiddenInput
    )
    within = forms.CharField(
        required=False,
        label="Each reading is within (mm), either way",
        help_text="Of gauge and surface together, such as 0.1. Without it a wall that "
        "seems to thicken cannot be told from reading error.",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )

    def __init__(
        self, data: Any, *, asked: Asked, points: list[str], held: list[Thickness]
    ) -> None:
        """Make the rows: as sent, else `held`, else the `points` of the last survey."""
        self.asked = asked
        prefix = f"{asked.key}_survey"
        sent = bool(data) and f"{prefix}-rows" in data
        names = [point for point, _mm, _within in held] or points
        self.count = max(FEWEST_ROWS, len(names) + SPARE_ROWS)
        if sent and str(data[f"{prefix}-rows"]).isdigit():
            self.count = min(max(int(data[f"{prefix}-rows"]), 1), MOST_ROWS)
        super().__init__(data if sent else None, prefix=prefix)
        self.initial = {"rows": self.count, "within": plain(held[0][2]) if held else ""}
        for at in range(self.count):
            self._add_row(at, names, held)

    def _add_row(self, at: int, names: list[str], held: list[Thickness]) -> None:
        self.fields[f"point_{at}"] = forms.CharField(
            max_length=40,
            required=False,
            label=f"Point {at + 1}",
            initial=names[at] if at < len(names) else "",
        )
        self.fields[f"mm_{at}"] = forms.CharField(
            max_length=12,
            required=False,
            label=f"Thickness at point {at + 1} (mm)",
            initial=plain(held[at][1]) if at < len(held) else "",
            widget=forms.TextInput(
                attrs={"inputmode": "decimal", "autocomplete": "off"}
            ),
        )

    @property
    def pairs(self) -> Iterator[tuple[BoundField, BoundField]]:
        """Yield the fields of each row: its point and its thickness."""
        for at in range(self.count):
            yield self[f"point_{at}"], self[f"mm_{at}"]

    def thicknesses(self) -> list[Thickness]:
        """
        Return what was read; a row without a thickness was not.

        Raises ValidationError with a sentence naming the row.
        """
        if not self.is_bound:
            return []
        self.full_clean()
        within = self._number("within") or Decimal(0)
        found: list[Thickness] = []
        for at in range(self.count):
            point = str(self.cleaned_data.get(f"point_{at}") or "").strip()
            mm = self._number(f"mm_{at}")
            if mm is None:
                continue
            if not point:
                raise ValidationError(f"Name point {at + 1}.", code="no_point")
            found.append((point, mm, within))
        return found

    def _number(self, name: str) -> Decimal | None:
        text = str(self.cleaned_data.get(name) or "").strip()
        if not text:
            return None
        try:
            number = read_number(text)
        except ValueError as error:
            label = self.fields[name].label
            raise ValidationError(f"{label}: {error}", code="not_a_number") from None
        if number != round(number, 3):
            raise ValidationError(
                "Give thicknesses to 3 decimals at most.", code="fine"
            )
        return number


def survey_forms(
    data: Any,
    asked: Iterable[Asked],
    held: TestRecord | None,
    previous: TestRecord | None,
) -> dict[str, SurveyForm]:
    """
    Return the forms of every survey line among those asked, by their keys.

    `held` is the record being corrected; the points of the `previous` one are offered.
    """
    surveys = [one for one in asked if one.line.kind == LineKind.SURVEY]
    if not surveys:
        return {}
    now, before = _by_line(held), _by_line(previous)
    return {
        one.key: SurveyForm(
            data,
            asked=one,
            points=[row.point for row in before.get(one.line.text, [])],
            held=[
                (row.point, row.thickness_mm, row.uncertainty_mm)
                for row in now.get(one.line.text, [])
            ],
        )
        for one in surveys
    }


def _by_line(record: TestRecord | None) -> Mapping[str, list[ThicknessReading]]:
    found: dict[str, list[ThicknessReading]] = {}
    for row in record.thicknesses.select_related("line") if record else ():
        found.setdefault(row.line.text, []).append(row)
    return found
