"""Admin of accounts and persons, which may be edited, and of competences, to look at."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from fleet.people.models import CompetenceVersion, Person, User
from fleet.records.admin import ReadOnlyAdmin


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


@admin.register(CompetenceVersion)
class CompetenceVersionAdmin(ReadOnlyAdmin):
    """Competences, every version."""

    list_display = ("competence", "since_earliest", "until_earliest", "change")
    list_filter = ("competence__skill", "change")
    list_select_related = ("competence",)
