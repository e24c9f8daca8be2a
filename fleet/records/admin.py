"""Admin of facts: to look, never to change."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from fleet.records.models import Entry


class ReadOnlyAdmin(admin.ModelAdmin[Any]):
    """Show facts in the admin; they are written on the pages, through services."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Refuse."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Refuse."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Refuse."""
        return False


@admin.register(Entry)
class EntryAdmin(ReadOnlyAdmin):
    """The log of deeds."""

    list_display = ("number", "made_at", "deed", "user", "channel")
    list_filter = ("channel", "deed")
    list_select_related = ("user",)
