"""Accounts and persons of a made-up line."""

import datetime as dt

import factory
from django.contrib.auth.hashers import make_password

from fleet.engineering.calendar import Moment
from fleet.people.models import Person, Skill, User
from fleet.people.roles import give_role
from fleet.people.services import grant_competence

PASSWORD = "seven brass cocks"


class UserFactory(factory.django.DjangoModelFactory):
    """An account; `role` names its role, by default a fitter."""

    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"user{n}")
    first_name = "Robin"
    last_name = factory.Sequence(lambda n: f"Hollis {n}")
    password = factory.LazyFunction(lambda: make_password(PASSWORD))

    @factory.post_generation
    def role(self, create, extracted, **kwargs):
        if create:
            give_role(self, extracted or "fitter")


class PersonFactory(factory.django.DjangoModelFactory):
    """Somebody who does work, with an account of their own."""

    class Meta:
        model = Person

    name = factory.Sequence(lambda n: f"Sam Tarrow {n}")
    user = factory.SubFactory(UserFactory)


def make_competence(person, *, since="2015-01-01", last_day=None, **values):
    """A competence for air brake tests, unless told otherwise."""
    values = {"skill": Skill.AIR, "assessed_by": "J. Orpwood, brake inspector"} | values
    ends = dt.date.fromisoformat(last_day) if last_day else None
    return grant_competence(
        by=None, person=person, since=Moment.parse(since), last_day=ends, **values
    )
