"""The filter above the list of defects."""

import datetime as dt
from typing import Any

import django_filters
from django.db.models import Q

from fleet.defects.managers import DefectStepQuerySet
from fleet.defects.models import DefectStep
from fleet.defects.vocabulary import Step
from fleet.register.vocabulary import Effect, Scope

OPEN, CLEARED = "open", "cleared"
_STATES = [(OPEN, "Open"), (CLEARED, "Cleared"), *Step.choices()]
_AGES = [(str(days), f"{days} days and more") for days in (7, 30, 90, 365)]


class DefectFilter(django_filters.FilterSet):
    """By vehicle, item, scope, effect, state and age."""

    vehicle = django_filters.CharFilter(label="Vehicle", method="with_vehicle")
    equipment = django_filters.CharFilter(
        label="Serial number", field_name="serial", lookup_expr="icontains"
    )
    state = django_filters.ChoiceFilter(
        label="State", choices=_STATES, method="in_state", empty_label="All"
    )
    scope = django_filters.ChoiceFilter(
        label="Bears on", choices=Scope.choices(), empty_label="All"
    )
    effect = django_filters.ChoiceFilter(
        label="Effect",
        choices=Effect.choices(),
        method="assessed_as",
        empty_label="All",
    )
    age = django_filters.ChoiceFilter(
        label="Age", choices=_AGES, method="as_old_as", empty_label="Any"
    )

    class Meta:
        model = DefectStep
        fields = ()

    def __init__(self, *args: Any, today: dt.date, **options: Any) -> None:
        """Keep the day from which ages count."""
        super().__init__(*args, **options)
        self.today = today

    def with_vehicle(
        self, steps: DefectStepQuerySet, _name: str, number: str
    ) -> DefectStepQuerySet:
        """Keep defects found on a vehicle, or of an item it carries now."""
        found = Q(vehicle_number__icontains=number) | Q(number_now__icontains=number)
        return steps.filter(found)

    def in_state(
        self, steps: DefectStepQuerySet, _name: str, state: str
    ) -> DefectStepQuerySet:
        """Keep what is open, what is cleared, or what stands at one step."""
        if state in {OPEN, CLEARED}:
            return steps.filter(cleared=int(state == CLEARED))
        return steps.filter(step=state)

    def assessed_as(
        self, steps: DefectStepQuerySet, _name: str, effect: str
    ) -> DefectStepQuerySet:
        """Keep what was assessed so; what waits for assessment has no effect yet."""
        return steps.filter(effect=effect).exclude(step=Step.RAISED)

    def as_old_as(
        self, steps: DefectStepQuerySet, _name: str, days: str
    ) -> DefectStepQuerySet:
        """Keep what was found so many days ago or earlier."""
        by = self.today - dt.timedelta(days=int(days))
        return steps.filter(Q(raised_on__lte=by) | Q(raised_on__isnull=True))
