"""The roles of the line: groups with their permissions, put in place after migrating."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from django.apps import AppConfig, apps
from django.contrib.auth.management import create_permissions
from django.contrib.auth.models import Group, Permission
from django.db.models import Q, QuerySet

from fleet.people.models import User

ADMINISTRATOR = "administrator"
# What an administrator edits in the admin site; facts are written on pages only.
EDITED_IN_ADMIN = (("people", "user"), ("people", "person"), ("register", "depot"))


@dataclass(frozen=True, slots=True)
class Role:
    """What a role is called on screens, and which permissions of `people` it carries."""

    words: str
    permissions: frozenset[str]


_FITTER = frozenset({"record_facts", "assess_defects", "print_reports"})
_PLANNER = _FITTER | {"plan_work", "edit_register"}
_EVERY = _PLANNER | {"release_vehicles", "edit_policy"}

ROLES: Mapping[str, Role] = MappingProxyType(
    {
        "fitter": Role("Fitter", _FITTER),
        "planner": Role("Planner", _PLANNER),
        "manager": Role("Manager", _EVERY),
        "train_crew": Role("Train crew", frozenset()),
        ADMINISTRATOR: Role("Administrator", _EVERY),
    }
)


def install_after_migrate(*, app_config: AppConfig, using: str, **_kwargs: Any) -> None:
    """Put groups and their permissions in place; safe to repeat."""
    # Django makes permissions slice by slice, after this; here they are needed now.
    for config in apps.get_app_configs():
        create_permissions(config, using=using, verbosity=0)
    for name, role in ROLES.items():
        group, _made = Group.objects.using(using).get_or_create(name=name)
        group.permissions.set(_permissions(name, role, using))


def give_role(user: User, name: str) -> None:
    """Make a role the only one of an account; administrators may use the admin site."""
    if name not in ROLES:
        raise ValueError(f"no such role: {name}")
    user.groups.set(Group.objects.filter(name=name))
    user.is_staff = name == ADMINISTRATOR
    user.save(update_fields=["is_staff"])


def bearers(permission: str) -> str:
    """Return the roles that carry a permission, as they stand in a sentence."""
    words = [
        role.words.lower() for role in ROLES.values() if permission in role.permissions
    ]
    return " or ".join([", ".join(words[:-1]), words[-1]] if words[1:] else words)


def _permissions(name: str, role: Role, using: str) -> QuerySet[Permission]:
    wanted = Q(content_type__app_label="people", codename__in=role.permissions)
    if name == ADMINISTRATOR:
        wanted |= Q(codename__startswith="view_")
        for app, model in EDITED_IN_ADMIN:
            codenames = [f"add_{model}", f"change_{model}"]
            wanted |= Q(content_type__app_label=app, codename__in=codenames)
    return Permission.objects.using(using).filter(wanted)
