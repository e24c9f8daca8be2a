"""The filters above the lists of vehicles and equipment."""

from typing import Any

import django_filters

from fleet.register.managers import (
    EquipmentVersionQuerySet,
    VehicleVersionQuerySet,
)
from fleet.register.models import Depot, EquipmentVersion, VehicleType, VehicleVersion
from fleet.register.vocabulary import (
    EquipmentKind,
    EquipmentState,
    Fitment,
    VehicleStatus,
)

ON_VEHICLE, IN_STORE, NOWHERE = "vehicle", "store", "nowhere"


class VehicleFilter(django_filters.FilterSet):
    """By number, type, depot, status and arrangement."""

    q = django_filters.CharFilter(label="Number", method="called")
    type = django_filters.ModelChoiceFilter(
        label="Type", queryset=VehicleType.objects.named(), empty_label="All"
    )
    depot = django_filters.ModelChoiceFilter(
        label="Depot", queryset=Depot.objects.all(), empty_label="All"
    )
    status = django_filters.ChoiceFilter(
        label="Status", choices=VehicleStatus.choices(), empty_label="All"
    )
    air = django_filters.ChoiceFilter(
        label="Air", choices=Fitment.choices(), empty_label="All"
    )
    vacuum = django_filters.ChoiceFilter(
        label="Vacuum", choices=Fitment.choices(), empty_label="All"
    )

    class Meta:
        model = VehicleVersion
        fields = ()

    def called(
        self, rows: VehicleVersionQuerySet, _name: str, words: str
    ) -> VehicleVersionQuerySet:
        """Keep vehicles that bear or bore a number."""
        return rows.called(words)


class EquipmentFilter(django_filters.FilterSet):
    """By serial, word of the trade, kind, state and place."""

    q = django_filters.CharFilter(label="Serial or name", method="called")
    kind = django_filters.ChoiceFilter(
        label="Kind", choices=EquipmentKind.choices(), empty_label="All"
    )
    state = django_filters.ChoiceFilter(
        label="State", choices=EquipmentState.choices(), empty_label="All"
    )
    where = django_filters.ChoiceFilter(
        label="Where",
        method="lying",
        choices=(
            (ON_VEHICLE, "On a vehicle"),
            (IN_STORE, "In a store"),
            (NOWHERE, "Not recorded"),
        ),
        empty_label="All",
    )

    class Meta:
        model = EquipmentVersion
        fields = ()

    def called(
        self, rows: EquipmentVersionQuerySet, _name: str, words: str
    ) -> EquipmentVersionQuerySet:
        """Keep items by serial, designation or group, or by a word of the trade."""
        return rows.called(words)

    def lying(
        self, rows: EquipmentVersionQuerySet, _name: str, where: str
    ) -> EquipmentVersionQuerySet:
        """Keep items that are in such a place now."""
        wanted: dict[str, Any] = {
            ON_VEHICLE: {"at_vehicle__isnull": False},
            IN_STORE: {"at_store__isnull": False},
            NOWHERE: {"at_vehicle__isnull": True, "at_store__isnull": True},
        }
        return rows.filter(**wanted[where])
