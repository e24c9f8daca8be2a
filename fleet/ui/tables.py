"""The base of every list: fifty rows a page, readable as blocks on a phone."""

from typing import Any

import django_tables2 as tables
from django.http import HttpRequest

PER_PAGE = 50
OPTIONS: dict[str, Any] = {
    "template_name": "ui/table.html",
    "attrs": {"class": "ledger blocks"},
    "order_by_field": "sort",
    "default": "\N{EN DASH}",
}


class RegisterTable(tables.Table):
    """A list that sorts by its headings; a column's heading labels it on a phone."""

    nothing = "Nothing recorded that answers to this."  # what an empty list says

    def __init__(self, *args: Any, **options: Any) -> None:
        """Make a list of rows; `options` are those of any table and go before ours."""
        # Not in Meta: a subclass with a Meta of its own would lose it in silence.
        usual = {**OPTIONS, "empty_text": self.nothing}
        super().__init__(*args, **{**usual, **options})


class NumberColumn(tables.Column):
    """A running or serial number, set large, first in its row."""

    def __init__(self, **options: object) -> None:
        """Make a column whose cells lead their block on a phone."""
        attrs = {"td": {"class": "number"}}
        super().__init__(**{"attrs": attrs, **options})


class WideColumn(tables.Column):
    """A column that takes the full width of its block on a phone."""

    def __init__(self, **options: object) -> None:
        """Make a wide column."""
        super().__init__(**{"attrs": {"td": {"class": "wide"}}, **options})


def paged(table: tables.Table, request: HttpRequest) -> tables.Table:
    """Sort and page a table as the request asks, fifty rows to a page."""
    tables.RequestConfig(request, paginate={"per_page": PER_PAGE}).configure(table)
    return table
