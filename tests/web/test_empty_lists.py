"""Lists in a register where nothing was recorded yet: they say so, and nothing else."""

import pytest
from django.urls import reverse

from tests.web.reading import words

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("reports:statement-list", "No statement was issued."),
        ("reports:snapshot-list", "None was taken."),
        ("web:visit-list", "A vehicle visits once its particulars say so"),
        ("web:notice-list", "None was issued."),
        ("web:concession-list", "No concession was asked for."),
        ("defects:isolation-list", "No brake is recorded as isolated."),
        ("defects:isolation-list", "No isolation was restored."),
        ("defects:cock-list", "None is open."),
        ("upkeep:policy", "Without requirements nothing falls due."),
    ],
)
def test_an_empty_list_says_what_there_is_none_of(client, manager, name, sentence):
    client.force_login(manager)
    said = words(client.get(reverse(name)))
    assert sentence in said
    assert "answers to this" not in said
