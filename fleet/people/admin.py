"""Admin of accounts and persons: the two tables of this slice that may be edited."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from fleet.people.models import Person, User


@admin.register(User)
class AccountAdmin(UserAdmin[User]):
    """Accounts and their roles; an account that signed is switched off, not deleted."""

    list_display = ("username", "first_name", "last_name", "is_active", "is_staff")


@admin.register(Person)
class PersonAdmin(admin.ModelAdmin[Person]):
    """Names of those who do and sign work."""

    list_display = ("name", "user", "active")
    list_filter = ("active",)
    list_select_related = ("user",)
    search_fields = ("name",)
