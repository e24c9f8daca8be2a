"""Who overhauled an item: recorded, put right, taken back, shown on the item's page."""

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.records.models import Seal
from fleet.register.models import OverhaulVersion
from fleet.register.services.overhauls import (
    correct_overhaul,
    record_overhaul,
    retract_overhaul,
)
from tests.defects.factories import refused
from tests.examination.factories import make_item_test
from tests.register.factories import make_equipment
from tests.web.reading import main, words
from tests.web.scenes import on, standing_at_today

pytestmark = pytest.mark.django_db

FIRM = "Quillfeather Brake Overhauls"


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def overhauled(item=None, **values):
    """A distributor overhauled by a firm with a kit of theirs."""
    values = {
        "by": None,
        "equipment": item or make_equipment(),
        "on": on("2026-04-02"),
        "overhauler": FIRM,
        "certificate": "QB 7",
        "kit_batch": "DK-4",
    } | values
    return record_overhaul(**values)


def page_of(client, item):
    """The item's page."""
    return client.get(reverse("register:equipment", args=[item.pk]))


def test_from_the_firms_paper_to_the_items_page_and_a_slip_put_right(client, fitter):
    item = make_equipment()
    client.force_login(fitter)
    assert "Who overhauled it is not recorded" in words(page_of(client, item))
    add = reverse("register:overhaul-add", args=[item.pk])
    assert add in main(page_of(client, item))

    sent = {
        "submission": uuid.uuid4(),
        "on": "2026-04",
        "overhauler": f"  {FIRM} ",
        "certificate": "QB 7",
        "kit_batch": "DK-4",
    }
    assert client.post(add, sent).url == item.get_absolute_url()
    page = page_of(client, item)
    assert f"Overhauled by {FIRM} " in words(page)
    assert "Certificate or job QB 7 · kit or batch of seals DK-4" in words(page)
    assert str(fitter) in words(page)

    correct = reverse(
        "register:overhaul-correct", args=[OverhaulVersion.objects.current().get().pk]
    )
    assert correct in main(page)
    sent |= {"submission": uuid.uuid4(), "kit_batch": "DK-5", "reason": "Smudged"}
    assert client.post(correct, sent).url == item.get_absolute_url()
    page = words(page_of(client, item))
    assert "batch of seals DK-5" in page
    assert "batch of seals DK-4" in page
    assert "Corrected: Smudged" in page


def test_an_overhaul_that_never_was_is_retracted_with_a_reason_and_stays_shown(
    client, fitter
):
    version = overhauled()
    client.force_login(fitter)
    address = reverse("register:overhaul-retract", args=[version.pk])
    refused_page = client.post(address, {"submission": uuid.uuid4(), "reason": ""})
    assert refused_page.status_code == 200
    assert OverhaulVersion.objects.current().count() == 1

    sent = {"submission": uuid.uuid4(), "reason": "Another item's paper"}
    assert client.post(address, sent).url == version.equipment.get_absolute_url()

    assert OverhaulVersion.objects.current().count() == 0
    assert "Retracted: Another item's paper" in words(
        page_of(client, version.equipment)
    ).replace("&#x27;", "'")


def test_names_used_before_are_suggested_once_each_the_last_used_first(client, fitter):
    overhauled()
    overhauled(overhauler="Yaxwold Valve Works")
    overhauled()
    client.force_login(fitter)

    page = main(
        client.get(reverse("register:overhaul-add", args=[make_equipment().pk]))
    )

    names = [part.split('"')[0] for part in page.split('<option value="')[1:]]
    assert names == [FIRM, "Yaxwold Valve Works"]


def test_the_page_of_an_items_test_leads_there_with_its_day(client, fitter):
    test = make_item_test(on=on("2026-03-04"))
    client.force_login(fitter)
    add = reverse("register:overhaul-add", args=[test.equipment_id])

    assert f'{add}?on=2026-03-04"' in main(client.get(test.test.get_absolute_url()))
    assert 'value="2026-03-04"' in main(client.get(f"{add}?on=2026-03-04"))
    assert client.get(f"{add}?on=teatime").status_code == 200
    assert "unknown" not in str(client.get(add).context["form"]["on"].as_widget())


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"on": on("2026-05-11")}, "in_the_future"),
        ({"on": Moment.on(dt.date(1999, 1, 1))}, "before_made"),
        ({"overhauler": "  "}, "blank"),
    ],
)
def test_what_cannot_have_been_is_refused(values, code):
    item = make_equipment()

    with refused(code):
        overhauled(item, **values)


def test_a_correction_that_changes_nothing_or_comes_too_late_is_refused():
    version = overhauled()
    same = {
        "by": None,
        "version": version,
        "on": version.on,
        "overhauler": FIRM,
        "certificate": "QB 7",
        "kit_batch": "DK-4",
    }
    with refused("nothing_changed"):
        correct_overhaul(reason="Looked again", **same)
    with refused("no_reason"):
        correct_overhaul(reason=" ", **same | {"kit_batch": "DK-9"})
    retract_overhaul(by=None, version=version, reason="Another item's")
    with refused("already_superseded"):
        correct_overhaul(reason="Too late", **same | {"kit_batch": "DK-9"})


def test_what_was_recorded_is_under_the_seal_of_its_entry():
    version = overhauled()

    sealed = Seal.objects.get(entry=version.opened_by).rows
    assert ["register.overhaulversion", version.pk] in [row[:2] for row in sealed]


def test_only_who_may_record_facts_may_record_it(client, train_crew):
    version = overhauled()
    client.force_login(train_crew)

    for name, key in (
        ("overhaul-add", version.equipment_id),
        ("overhaul-correct", version.pk),
        ("overhaul-retract", version.pk),
    ):
        assert client.get(reverse(f"register:{name}", args=[key])).status_code == 403
