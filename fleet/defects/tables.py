"""Lists of defects and of isolations."""

import datetime as dt
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from fleet.defects.vocabulary import Extent, Step
from fleet.engineering.calendar import Moment
from fleet.ui.tables import NumberColumn, RegisterTable, WideColumn

IN_STORE = "In store"


class DefectTable(RegisterTable):
    """The newest step of each defect, which stands for it."""

    vehicle = NumberColumn(
        verbose_name="Vehicle",
        accessor="number_now",
        order_by=("number_now", "vehicle_number"),
        empty_values=(),
    )
    title = WideColumn(verbose_name="Defect", accessor="defect__title")
    scope = tables.Column(verbose_name="Bears on")
    effect = tables.Column(verbose_name="Effect")
    step = tables.Column(verbose_name="State")
    raised_on = tables.Column(verbose_name="Found")

    def __init__(self, *args: Any, today: dt.date, **options: Any) -> None:
        """Keep the day from which ages count."""
        super().__init__(*args, **options)
        self.today = today

    def render_vehicle(self, record: Any) -> str:
        """Show the vehicle that bears it now, or that the item is in a store."""
        if record.defect.equipment_id is None:
            return str(record.vehicle_number)
        number = record.number_now or IN_STORE
        return format_html("{} <small>{}</small>", number, record.serial)

    def render_title(self, record: Any, value: str) -> str:
        """Link to the defect."""
        address = reverse("defects:defect", args=[record.defect_id])
        return format_html('<a href="{}">{}</a>', address, value)

    def render_effect(self, record: Any, value: str) -> str:
        """Show the effect, once somebody assessed it."""
        if record.step == Step.RAISED:
            return "Not assessed yet"
        return value

    def render_step(self, record: Any, value: str) -> str:
        """Show where the defect stands, and since when."""
        return format_html("{} <small>{}</small>", value, record.on)

    def render_raised_on(self, value: dt.date, record: Any) -> str:
        """Show when it was found and, while it is open, how long ago."""
        when = Moment.on(value)
        if Step(record.step).ends:
            return str(when)
        days = (self.today - value).days
        age = "today" if days < 1 else f"{days} day{'s'[: days != 1]}"
        return format_html("{} <small>{}</small>", when, age)


class IsolationTable(RegisterTable):
    """Isolation records: what is cut out, why, by whom, and the label."""

    number = NumberColumn(verbose_name="Vehicle")
    system = tables.Column(accessor="isolation__system", verbose_name="Isolated")
    since = tables.Column(order_by="since_key", verbose_name="Since")
    why = WideColumn()
    by = tables.Column(verbose_name="By")
    label_number = tables.Column(verbose_name="Label", empty_values=())

    def __init__(self, *args: Any, today: dt.date, **options: Any) -> None:
        """Keep the day from which days are counted."""
        super().__init__(*args, **options)
        self.today = today

    def render_number(self, record: Any, value: str) -> str:
        """Link to the record."""
        address = reverse("defects:isolation", args=[record.isolation_id])
        return format_html('<a href="{}">{}</a>', address, value)

    def render_system(self, record: Any, value: str) -> str:
        """
        Show the brake, how much of it, and the braked weight that is left.

        Of a handbrake, what held the vehicle instead.
        """
        if record.secured:
            return format_html(
                "{} <small>secured by: {}</small>", value, record.secured
            )
        if record.extent != Extent.PART:
            return format_html("{}", value)
        if record.braked_weight_t is None:
            return format_html("{}, part", value)
        left = record.braked_weight_t
        return format_html("{}, part <small>{} t left</small>", value, left)

    def render_label_number(self, record: Any) -> str:
        """Show the number of the label and where it is fixed."""
        number = record.label_number or "No number"
        where = record.label_where or "place not recorded"
        return format_html("{} <small>{}</small>", number, where)


class StandingTable(IsolationTable):
    """What is isolated now: for how many days, and under which authority it may move."""

    nothing = "No brake is recorded as isolated."

    complete = tables.Column(verbose_name="Record")
    move = WideColumn(verbose_name="May be moved", empty_values=(), orderable=False)

    def render_since(self, *, value: Moment) -> str:
        """Show since when, and for how many days."""
        if value.earliest is None:
            return str(value)
        days = (self.today - value.earliest).days
        age = "today" if days < 1 else f"{days} day{'s'[: days != 1]}"
        return format_html("{} <small>{}</small>", value, age)

    def render_complete(self, *, value: bool) -> str:
        """Say whether every line is answered."""
        return "Complete" if value else "Incomplete"

    def render_move(self, record: Any) -> str:
        """Show the newest authority to move with its limits, or that there is none."""
        ahead = [m for m in record.isolation.moves if m.last_day >= self.today]
        if not ahead:
            return "No authority in force"
        move = ahead[0]
        return format_html(
            "To {}, {} to {}: {} <small>given by {}</small>",
            move.destination,
            move.since,
            Moment.on(move.last_day),
            move.limits,
            move.given_by,
        )


class RestoredTable(IsolationTable):
    """Brakes that were isolated: restored when, by whom, and tested after."""

    nothing = "No isolation was restored."

    until = tables.Column(order_by="until_key", verbose_name="Restored")
    restored_by = tables.Column(verbose_name="Restored by")
    tested = tables.Column(
        verbose_name="Test passed after", empty_values=(), orderable=False
    )

    def render_tested(self, *, value: int | None) -> str:
        """Link to the first test of that brake passed after it was restored."""
        if value is None:
            return "None recorded"
        address = reverse("examination:test", args=[value])
        return format_html('<a href="{}">See the test</a>', address)
