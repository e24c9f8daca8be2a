"""Lists of tests, procedures and instruments."""

import datetime as dt
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from fleet.examination.flags import NONE as NO_FLAGS
from fleet.examination.flags import Flags
from fleet.examination.instrument_page import STANDING_MARKS, standing_in_list
from fleet.examination.models import InstrumentVersion, ProcedureRevision, TestRecord
from fleet.examination.sheet import RESULT_MARKS
from fleet.examination.vocabulary import InstrumentState, TestSubject
from fleet.register.vocabulary import EquipmentKind
from fleet.ui.tables import NumberColumn, RegisterTable


class TestTable(RegisterTable):
    """Tests: what, by which procedure, when, by whom, with which result."""

    __test__ = False

    subject = NumberColumn(
        verbose_name="Vehicle or item",
        empty_values=(),
        order_by=("vehicle_number", "item_serial"),
    )
    procedure = tables.Column("Procedure", accessor="procedure_revision__title")
    on = tables.Column("Done on", order_by=("on_latest", "on_at", "pk"))
    result = tables.Column("Result", order_by=("passed", "failed"))
    done_by = tables.Column("Done by", order_by="done_by__name")

    flags: Mapping[int, Flags] = MappingProxyType({})  # by record, of the page shown

    class Meta:
        order_by = ("-on",)

    def render_subject(self, record: Any) -> SafeString:
        """Show the number, with the kind of an item beneath."""
        kind = EquipmentKind(record.equipment.kind).label if record.equipment_id else ""
        number = record.vehicle_number or record.item_serial or ""
        return format_html(
            '<a href="{}">{}</a>{}', address(record), number, _beneath(kind)
        )

    def render_procedure(self, value: str, record: TestRecord) -> SafeString:
        """Link to the test by the title of its procedure."""
        return format_html(
            '<a href="{}">{}</a>',
            address(record),
            f"{value}, revision {record.procedure_revision.number}",
        )

    def render_result(self, record: TestRecord) -> SafeString:
        """Show the result in words, with what it rests on and what stands against it."""
        flags = self.flags.get(record.pk, NO_FLAGS).words
        return format_html(
            '<span class="{}">{}</span>{}{}',
            RESULT_MARKS[record.result],
            record.result.label,
            _beneath(record.shortfall),
            format_html_join(
                "", '<small class="flag">{}</small>', ((w,) for w in flags)
            ),
        )


class ProcedureTable(RegisterTable):
    """Procedures, by the revision in force."""

    title = tables.Column("Procedure")
    subject = tables.Column("Carried out on")
    number = tables.Column("Revision", attrs={"td": {"class": "figure"}})
    effective_from = tables.DateColumn(format="j M Y", verbose_name="In force from")
    line_count = tables.Column("Lines", attrs={"td": {"class": "figure"}})
    without_criterion = tables.Column("Without a criterion")
    source = tables.Column("Source")

    class Meta:
        order_by = ("title",)

    def render_title(self, value: str, record: ProcedureRevision) -> SafeString:
        """Link to the procedure, its code beneath."""
        page = reverse("examination:procedure", args=[record.procedure.code])
        return format_html(
            '<a href="{}">{}</a>{}', page, value, _beneath(record.procedure.code)
        )

    def render_subject(self, record: ProcedureRevision) -> str:
        """Show what it is carried out on; of items, the kind."""
        if record.kind:
            return EquipmentKind(record.kind).label
        return TestSubject(record.subject).label

    def render_without_criterion(self, value: int) -> SafeString:
        """Show how many lines say not what is good enough."""
        if not value:
            return format_html('<span class="quiet">{}</span>', "none")
        noun = "line" if value == 1 else "lines"
        return format_html("<strong>{} {}</strong>", value, noun)


class InstrumentTable(RegisterTable):
    """Instruments: what, its range, how it stands, and when it is due."""

    number = NumberColumn(verbose_name="Number")
    what = tables.Column("What it is")
    range = tables.Column("Range", empty_values=(), orderable=False)
    standing = tables.Column("Calibration", empty_values=(), orderable=False)
    compared_on = tables.DateColumn(format="j M Y", verbose_name="Last calibrated")
    good_until = tables.DateColumn(format="j M Y", verbose_name="Last good day")
    state = tables.Column("State")

    class Meta:
        order_by = ("good_until",)

    def __init__(self, rows: Any, day: dt.date, **options: Any) -> None:
        """Show rows as they stand on a day."""
        super().__init__(rows, **options)
        self.day = day

    def render_number(self, value: str, record: InstrumentVersion) -> SafeString:
        """Link to the instrument."""
        page = reverse("examination:instrument", args=[record.instrument_id])
        return format_html('<a href="{}">{}</a>', page, value)

    def render_range(self, record: InstrumentVersion) -> str:
        """Show the range with the class."""
        return record.range_words or "not recorded"

    def render_standing(self, record: InstrumentVersion) -> SafeString:
        """Show how it stands, marked."""
        standing = standing_in_list(record, self.day)
        return format_html(
            '<span class="{}">{}</span>', STANDING_MARKS[standing], standing.label
        )

    def render_state(self, value: str) -> str:
        """Show the state in words."""
        return InstrumentState(value).label if value in set(InstrumentState) else value


def address(record: TestRecord) -> str:
    """Return the page of the test a record belongs to."""
    return reverse("examination:test", args=[record.test_id])


def _beneath(text: str) -> SafeString | str:
    return format_html("<small>{}</small>", text) if text else ""
