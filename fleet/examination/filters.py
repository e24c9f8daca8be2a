"""Narrowing the list of tests."""

from typing import Any

import django_filters as filters
from django import forms

from fleet.examination.models import Procedure, TestRecord
from fleet.examination.vocabulary import Result


class TestFilter(filters.FilterSet):
    """By vehicle, item, procedure, result and days."""

    __test__ = False

    vehicle = filters.CharFilter(method="by_vehicle", label="Running number")
    equipment = filters.CharFilter(method="by_equipment", label="Serial number")
    procedure = filters.ModelChoiceFilter(
        field_name="procedure_revision__procedure",
        queryset=Procedure.objects.all(),
        label="Procedure",
        empty_label="All",
    )
    result = filters.ChoiceFilter(
        method="by_result", choices=Result.choices(), label="Result", empty_label="All"
    )
    first = filters.DateFilter(
        field_name="on_latest",
        lookup_expr="gte",
        label="From",
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    last = filters.DateFilter(
        field_name="on_earliest",
        lookup_expr="lte",
        label="To",
        widget=forms.DateInput(attrs={"type": "date"}),
    )

    class Meta:
        model = TestRecord
        fields: tuple[str, ...] = ()

    def by_vehicle(self, tests: Any, _name: str, value: str) -> Any:
        """Keep tests of vehicles numbered so."""
        return tests.of_vehicle_numbered(value)

    def by_equipment(self, tests: Any, _name: str, value: str) -> Any:
        """Keep tests of items with such a serial number."""
        return tests.of_item_with_serial(value)

    def by_result(self, tests: Any, _name: str, value: str) -> Any:
        """Keep tests that came to a result."""
        return tests.with_result(value)
