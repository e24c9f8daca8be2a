"""One account for each role, and all of them by role."""

import pytest

from fleet.people.roles import ROLES
from tests.people.factories import UserFactory


@pytest.fixture
def fitter(db):
    return UserFactory(username="fitter", role="fitter")


@pytest.fixture
def planner(db):
    return UserFactory(username="planner", role="planner")


@pytest.fixture
def manager(db):
    return UserFactory(username="manager", role="manager")


@pytest.fixture
def train_crew(db):
    return UserFactory(username="train_crew", role="train_crew")


@pytest.fixture
def administrator(db):
    return UserFactory(username="administrator", role="administrator")


@pytest.fixture
def people(fitter, planner, manager, train_crew, administrator):
    """Every role's account, by the name of the role."""
    every = (fitter, planner, manager, train_crew, administrator)
    assert {user.username for user in every} == set(ROLES)
    return {user.username: user for user in every}
