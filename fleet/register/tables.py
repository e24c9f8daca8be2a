"""Lists of the register: vehicles, equipment, types."""

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from fleet.register.models import EquipmentVersion, TypeRevision, VehicleVersion
from fleet.ui.tables import NumberColumn, RegisterTable


class VehicleTable(RegisterTable):
    """Every vehicle with its particulars of today."""

    number = NumberColumn(
        verbose_name="Vehicle",
        linkify=lambda record: reverse("web:vehicle", args=[record.vehicle_id]),
    )
    type = tables.Column(order_by="type__code")
    arrangement = tables.Column(orderable=False)
    depot = tables.Column(order_by="depot__name")
    status = tables.Column()

    class Meta:
        model = VehicleVersion
        fields = ("number", "type", "arrangement", "depot", "status")

    def render_type(self, record: Any) -> str:
        """Name the type in words, its code beside it."""
        return format_html("{} <small>{}</small>", record.type_name, record.type.code)


class EquipmentTable(RegisterTable):
    """Items of equipment and where they are."""

    serial = NumberColumn(
        linkify=lambda record: reverse("register:equipment", args=[record.equipment_id])
    )
    kind = tables.Column()
    designation = tables.Column()
    made = tables.Column(order_by="made_earliest")
    state = tables.Column()
    where = tables.Column(empty_values=(), order_by=("at_number", "at_store"))

    class Meta:
        model = EquipmentVersion
        fields = ("serial", "kind", "designation", "made", "state", "where")

    def render_where(self, record: Any) -> str:
        """Link to the position it is fitted at, or name its store."""
        if record.at_vehicle is None:
            return record.at_store or "Not recorded"
        address = reverse(
            "register:position", args=[record.at_vehicle, record.at_position]
        )
        return format_html(
            '<a href="{}">{}</a> <small>{}</small>',
            address,
            record.at_number,
            record.at_label or record.at_position,
        )


class TypeTable(RegisterTable):
    """Types of vehicle, each in its newest revision."""

    code = NumberColumn(
        accessor="type__code",
        verbose_name="Type",
        linkify=lambda record: reverse("register:type", args=[record.type.code]),
    )
    name = tables.Column()
    number = tables.Column(verbose_name="Revision")
    effective_from = tables.DateColumn("j M Y", verbose_name="In force from")
    places = tables.Column(verbose_name="Positions")

    class Meta:
        model = TypeRevision
        fields = ("code", "name", "number", "effective_from", "places")
