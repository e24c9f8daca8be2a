"""Pages of the register: what they show, who may, what a form stores or refuses."""

import datetime as dt
import html
import re

import pytest
import time_machine
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.records.models import Entry
from fleet.register.models import (
    EquipmentVersion,
    Fitting,
    HoseParticulars,
    StoragePeriod,
    TypeRevision,
    Usage,
    VehicleVersion,
)
from fleet.register.services.fittings import correct_fitting, retract_fitting, take_off
from fleet.register.services.overhauls import record_overhaul
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import EquipmentKind
from tests.register.factories import (
    make_depot,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
)

pytestmark = pytest.mark.django_db

at = Moment.parse


def words(answer):
    """The words of a page, without its markup."""
    text = html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode()))
    return " ".join(text.split())


def place_url(name, vehicle, position="distributor"):
    return reverse(f"register:{name}", args=[vehicle.pk, position])


@pytest.fixture
def vehicle():
    return make_vehicle(number="T 107")


@pytest.fixture
def fitted(vehicle):
    return make_fitting(
        vehicle=vehicle,
        position="distributor",
        equipment=make_equipment(serial="D 20"),
        since=at("2020-03-01"),
    )


# Who may ---------------------------------------------------------------------------------

PLANNERS = {"planner", "manager", "administrator"}
FITTERS = PLANNERS | {"fitter"}
EVERYONE = FITTERS | {"train_crew"}


@pytest.mark.parametrize(
    ("page", "those"),
    [
        ("vehicle-list", EVERYONE),
        ("equipment-list", EVERYONE),
        ("equipment", EVERYONE),
        ("position", EVERYONE),
        ("type-list", EVERYONE),
        ("type", EVERYONE),
        ("vehicle-add", PLANNERS),
        ("vehicle-alter", PLANNERS),
        ("vehicle-correct", PLANNERS),
        ("vehicle-store", PLANNERS),
        ("vehicle-return", PLANNERS),
        ("equipment-add", PLANNERS),
        ("equipment-alter", PLANNERS),
        ("equipment-correct", PLANNERS),
        ("type-add", PLANNERS),
        ("type-revise", PLANNERS),
        ("usage-add", FITTERS),
        ("exchange", FITTERS),
        ("take-off", FITTERS),
        ("fit", FITTERS),
        ("fitting-correct", FITTERS),
        ("fitting-retract", FITTERS),
    ],
)
def test_a_page_is_open_to_these_roles_only(
    client, people, vehicle, fitted, page, those
):
    fit_at = ("fit", [vehicle.pk, "cylinder-1"])
    arguments = {
        "equipment": [fitted.equipment_id],
        "position": [vehicle.pk, "distributor"],
        "exchange": [vehicle.pk, "distributor"],
        "take-off": [vehicle.pk, "distributor"],
        "fit": fit_at[1],
        "fitting-correct": [fitted.pk],
        "fitting-retract": [fitted.pk],
        "equipment-alter": [fitted.equipment_id],
        "equipment-correct": [fitted.equipment_id],
        "type": ["coach-air"],
        "type-revise": ["coach-air"],
    } | {
        name: [vehicle.pk]
        for name in (
            "vehicle-alter",
            "vehicle-correct",
            "vehicle-store",
            "vehicle-return",
            "usage-add",
        )
    }
    address = reverse(f"register:{page}", args=arguments.get(page, []))
    entries = Entry.objects.count()

    statuses = {}
    for role, user in people.items():
        client.force_login(user)
        statuses[role] = client.get(address).status_code
        if role not in those:
            refused = client.post(address, {})
            assert refused.status_code == 403
            assert "This is for a" in words(refused)

    assert {role for role, status in statuses.items() if status == 200} == those
    assert set(statuses.values()) <= {200, 403}
    assert Entry.objects.count() == entries


def test_deeds_are_offered_only_to_those_who_may_do_them(
    client, people, vehicle, fitted
):
    client.force_login(people["train_crew"])
    seen = client.get(place_url("position", vehicle)).content.decode()
    assert place_url("exchange", vehicle) not in seen

    client.force_login(people["fitter"])
    offered = client.get(place_url("position", vehicle)).content.decode()
    assert place_url("exchange", vehicle) in offered


# Lists -----------------------------------------------------------------------------------


@pytest.mark.parametrize("several", [1, 7])
def test_the_list_of_vehicles_asks_the_same_number_of_questions(
    client, train_crew, several, django_assert_num_queries
):
    for _ in range(several):
        make_vehicle(depot=make_depot())
    client.force_login(train_crew)

    # session, user, count, rows, and the two choices of the filter; then permissions
    with django_assert_num_queries(8):
        client.get(reverse("register:vehicle-list"))


@pytest.mark.parametrize("several", [1, 7])
def test_the_list_of_equipment_asks_the_same_number_of_questions(
    client, train_crew, several, django_assert_num_queries
):
    for _ in range(several):
        make_fitting(vehicle=make_vehicle(), position="distributor")
        make_equipment()
    client.force_login(train_crew)

    # session, user, count, rows, permissions twice
    with django_assert_num_queries(6):
        client.get(reverse("register:equipment-list"))


@pytest.mark.parametrize("several", [1, 5])
def test_the_pages_of_an_item_and_of_a_position_ask_the_same_number_of_questions(
    client, fitter, several, django_assert_num_queries
):
    vehicle, item = make_vehicle(), make_equipment()
    for year in range(several):
        fitting = make_fitting(
            vehicle=vehicle,
            position="distributor",
            equipment=item,
            since=at(f"{2016 + year}-01-01"),
        )
        fitting = correct_fitting(
            by=fitter, fitting=fitting, reason="slip", remark="by hand"
        )
        take_off(
            by=fitter, fitting=fitting, at=at(f"{2016 + year}-06-01"), to=make_depot()
        )
        record_overhaul(
            by=fitter,
            equipment=item,
            on=at(f"{2016 + year}-07-01"),
            overhauler="Yaxwold Valve Works",
        )
    client.force_login(fitter)

    with django_assert_num_queries(10):
        client.get(item.get_absolute_url())
    with django_assert_num_queries(9):
        client.get(place_url("position", vehicle))


@pytest.mark.parametrize("several", [1, 5])
def test_the_list_of_types_asks_the_same_number_of_questions(
    client, fitter, several, django_assert_num_queries
):
    for n in range(several):
        make_type(f"type-{n}")
    client.force_login(fitter)

    with django_assert_num_queries(6):
        client.get(reverse("register:type-list"))
    with django_assert_num_queries(8):  # one for the brake figures
        client.get(reverse("register:type", args=["type-0"]))


def test_the_list_of_vehicles_shows_and_filters(client, train_crew):
    make_vehicle(number="T 107", depot=make_depot())
    make_vehicle(number="W 21", air="none", vacuum="braked", main_reservoir_pipe="none")
    renumbered = make_vehicle(number="T 12")
    alter_vehicle(by=None, vehicle=renumbered, since=at("2020-01-01"), number="T 13")
    client.force_login(train_crew)

    def shown(**asked):
        page = words(client.get(reverse("register:vehicle-list"), asked))
        return {number for number in ("T 107", "W 21", "T 13") if number in page}

    assert shown() == {"T 107", "W 21", "T 13"}
    assert shown(q="107") == {"T 107"}
    assert shown(q="T 12") == {"T 13"}
    assert shown(vacuum="braked") == {"W 21"}
    assert shown(depot=make_depot().pk) == {"T 107"}
    assert shown(status="stored") == set()
    assert "Two-pipe air brake" in words(client.get(reverse("register:vehicle-list")))


@pytest.mark.parametrize(
    ("asked", "serials"),
    [
        pytest.param({"q": "C 1"}, {"C 1"}, id="by serial"),
        pytest.param({"q": "angle cock"}, {"C 1"}, id="by a word of the trade"),
        pytest.param({"q": "Angle-cocks"}, {"C 1"}, id="however it is written"),
        pytest.param({"q": "aux res"}, {"R 1"}, id="shortened"),
        pytest.param({"q": "ar"}, {"R 1"}, id="two letters mean the whole word"),
        pytest.param({"kind": "distributor"}, {"D 20", "D 21"}, id="by kind"),
        pytest.param({"where": "vehicle"}, {"D 20"}, id="on a vehicle"),
        pytest.param({"where": "nowhere"}, {"D 21"}, id="not recorded"),
        pytest.param({"state": "scrapped"}, {"R 1"}, id="by state"),
    ],
)
def test_the_list_of_equipment_filters(client, train_crew, fitted, asked, serials):
    make_equipment(EquipmentKind.BP_END_COCK, serial="C 1")
    make_equipment(EquipmentKind.AUXILIARY_RESERVOIR, serial="R 1", state="scrapped")
    make_equipment(serial="D 21", store=None)
    client.force_login(train_crew)

    page = words(client.get(reverse("register:equipment-list"), asked))

    assert {s for s in ("C 1", "R 1", "D 20", "D 21") if f" {s} " in page} == serials


# Pages of one thing ----------------------------------------------------------------------


def test_the_page_of_an_item_shows_its_life_across_vehicles(client, train_crew, fitted):
    other = make_vehicle(number="T 205")
    take_off(by=None, fitting=fitted, at=at("2022-05-01"), to=make_depot())
    again = make_fitting(
        vehicle=other,
        position="distributor",
        equipment=fitted.equipment,
        since=at("2023-01"),
    )
    correct_fitting(by=None, fitting=again, reason="read wrongly", since=at("2023-02"))
    client.force_login(train_crew)

    page = words(client.get(fitted.equipment.get_absolute_url()))

    assert "1 Mar 2020 to 1 May 2022 T 107 , Distributor" in page
    assert "Feb 2023 T 205" in page
    assert "Corrected to distributor, Feb 2023 : read wrongly" in page


def test_an_imprecise_make_date_says_as_what_it_is_taken(client, train_crew):
    quarter = make_equipment(made=at("2019-Q2"), since=at("2020"))
    unknown = make_equipment(made=Moment.unknown())
    client.force_login(train_crew)

    assert "quarter 2 of 2019 taken as 1 Apr 2019 where age counts" in words(
        client.get(quarter.get_absolute_url())
    )
    assert "unknown is never fit" in words(client.get(unknown.get_absolute_url()))


def test_the_page_of_a_position_shows_what_is_and_was_there(
    client, train_crew, vehicle
):
    first = make_fitting(
        vehicle=vehicle,
        position="distributor",
        equipment=make_equipment(serial="D 1"),
        since=at("2016-01-01"),
        until=at("2018-01-01"),
    )
    wrong = make_fitting(
        vehicle=vehicle,
        position="distributor",
        equipment=make_equipment(serial="D 2"),
        since=at("2019-01-01"),
    )
    retract_fitting(by=None, fitting=wrong, reason="other vehicle's card")
    client.force_login(train_crew)

    page = words(client.get(place_url("position", vehicle)))

    assert "Empty. Something must be fitted here: brake to be isolated" in page
    assert "1 Jan 2016 to 1 Jan 2018 D 1" in page
    assert "Retracted: other vehicle's card" in page
    assert first.is_current


def test_a_position_nobody_knows_is_not_found(client, train_crew, vehicle):
    client.force_login(train_crew)

    assert client.get(place_url("position", vehicle, "nowhere")).status_code == 404
    assert client.get("/vehicles/9999/positions/distributor/").status_code == 404


# Forms -----------------------------------------------------------------------------------


def sent(client, address, **values):
    """Open a form, fill it in and send it: as from a page, with its own number."""
    form = client.get(address).context["form"]
    data = {"submission": str(form["submission"].value())} | values
    return client.post(address, data), data


def test_an_exchange_is_recorded_from_one_form(client, fitter, vehicle, fitted):
    item = make_equipment(serial="D 30")
    client.force_login(fitter)

    answer, _ = sent(
        client,
        place_url("exchange", vehicle),
        equipment=item.pk,
        at_day="2022-06-01",
        at_time="10:30",
        state="unserviceable",
        to=make_depot().pk,
    )

    assert (answer.status_code, answer["Location"]) == (
        302,
        place_url("position", vehicle),
    )
    held = Fitting.objects.current().open_ended().get(vehicle=vehicle)
    assert (held.equipment, held.since) == (
        item,
        Moment.on(dt.date(2022, 6, 1), dt.time(10, 30)),
    )
    assert held.opened_by.user == fitter


def test_the_form_offers_what_suits_and_lies_in_a_store(
    client, fitter, vehicle, fitted
):
    make_equipment(serial="D 31", state="unserviceable")
    make_equipment(serial="D 32")
    make_equipment(EquipmentKind.BP_HOSE, serial="H 1")
    client.force_login(fitter)

    form = client.get(place_url("exchange", vehicle)).context["form"]

    offered = [label.split(",")[0] for _, label in form.fields["equipment"].choices]
    assert offered == ["Choose an item", "D 32", "D 31"]


def test_the_cautions_stand_where_an_exchange_is_described(
    client, fitter, vehicle, fitted
):
    client.force_login(fitter)

    page = words(client.get(place_url("exchange", vehicle)))

    for title in (
        "Before anyone goes on or under the vehicle",
        "Before hands go near rigging or blocks",
        "Never let air hold a vehicle up",
        "Before a joint is broken or a hose uncoupled",
        "When the work is done",
    ):
        assert title in page


def test_a_form_sent_twice_is_stored_once_and_answered_alike(
    client, fitter, vehicle, fitted
):
    item = make_equipment()
    client.force_login(fitter)
    address = place_url("take-off", vehicle)
    first, data = sent(
        client,
        address,
        at_day="2022-06-01",
        state="serviceable",
        to=make_depot().pk,
    )
    entries = Entry.objects.count()

    second = client.post(address, data)

    assert (first.status_code, second.status_code) == (302, 302)
    assert first["Location"] == second["Location"]
    assert Entry.objects.count() == entries
    assert item.pk


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        pytest.param(
            {"at_day": "2019-01-01"}, "cannot come off before", id="before fitted"
        ),
        pytest.param({"at_day": "2190-01-01"}, "date that has been", id="future"),
        pytest.param({"at_day": "yesterday"}, "Write the date as", id="no date"),
        pytest.param({"at_day": ""}, "Enter the day", id="no day"),
        pytest.param({"state": "lost"}, "Select a valid choice", id="no such state"),
    ],
)
def test_what_cannot_be_is_said_on_the_page_and_nothing_is_stored(
    client, fitter, vehicle, fitted, values, sentence
):
    client.force_login(fitter)
    entries = Entry.objects.count()
    usual = {"at_day": "2022-06-01", "state": "serviceable", "to": make_depot().pk}

    answer, _ = sent(client, place_url("take-off", vehicle), **usual | values)

    assert answer.status_code == 200
    assert sentence in words(answer)
    assert Entry.objects.count() == entries


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        pytest.param({}, "Choose an item from the list", id="none"),
        pytest.param(
            {"serial": "X 9"}, "no brake cylinder with this serial", id="unknown"
        ),
        pytest.param(
            {"serial": "H 1"}, "no brake cylinder with this serial", id="other kind"
        ),
        pytest.param({"serial": "B 1"}, "recorded on T 205", id="on another vehicle"),
    ],
)
def test_which_item_goes_in_must_be_clear(client, fitter, vehicle, values, sentence):
    make_equipment(EquipmentKind.BP_HOSE, serial="H 1")
    make_fitting(
        vehicle=make_vehicle(number="T 205"),
        position="cylinder-1",
        equipment=make_equipment(EquipmentKind.BRAKE_CYLINDER, serial="B 1"),
    )
    client.force_login(fitter)
    before = Fitting.objects.count()

    answer, _ = sent(
        client, place_url("fit", vehicle, "cylinder-1"), since_day="2022", **values
    )

    assert sentence in words(answer)
    assert Fitting.objects.count() == before


def test_an_item_is_fitted_by_its_serial_on_a_date_known_to_the_month(
    client, fitter, vehicle
):
    make_equipment(EquipmentKind.BRAKE_CYLINDER, serial="B 1", store=None)
    client.force_login(fitter)

    answer, _ = sent(
        client,
        place_url("fit", vehicle, "cylinder-1"),
        serial="b 1",
        since_day="2022-05",
    )

    assert answer.status_code == 302
    assert Fitting.objects.current().get(vehicle=vehicle).since == at("2022-05")


def test_an_item_of_another_kind_can_be_recorded_where_it_really_is(
    client, fitter, vehicle
):
    make_equipment(EquipmentKind.BP_HOSE, serial="H 1")
    client.force_login(fitter)

    answer, _ = sent(
        client,
        place_url("fit", vehicle, "cylinder-1"),
        serial="H 1",
        since_day="2022",
        allow_wrong_kind="on",
    )

    assert answer.status_code == 302
    assert Fitting.objects.current().filter(vehicle=vehicle).exists()


def test_a_fitting_is_corrected_with_a_reason(client, fitter, fitted):
    client.force_login(fitter)
    address = reverse("register:fitting-correct", args=[fitted.pk])
    usual = {"since_day": "2020-03-04", "position": "distributor", "remark": ""}

    refused, _ = sent(client, address, **usual)
    assert "This field is required" in words(refused)
    unchanged, _ = sent(
        client, address, **usual | {"since_day": "2020-03-01", "reason": "x"}
    )
    assert "Nothing is different yet" in words(unchanged)
    answer, _ = sent(client, address, **usual, reason="job card found")

    assert answer.status_code == 302
    held = Fitting.objects.current().get(position="distributor")
    assert (str(held.since), held.reason) == ("4 Mar 2020", "job card found")


def test_a_fitting_that_never_was_is_retracted(client, fitter, fitted):
    client.force_login(fitter)

    answer, _ = sent(
        client,
        reverse("register:fitting-retract", args=[fitted.pk]),
        reason="another vehicle's card",
    )

    assert answer.status_code == 302
    assert not Fitting.objects.current().on_vehicles().exists()


VEHICLE = {
    "number": "T 300",
    "since_day": "2016",
    "air": "braked",
    "vacuum": "none",
    "main_reservoir_pipe": "feeding",
    "hand_brake": "on",
    "status": "in_traffic",
}


def test_a_vehicle_is_added_and_a_taken_number_is_refused_at_its_field(client, planner):
    client.force_login(planner)
    address = reverse("register:vehicle-add")
    values = VEHICLE | {"type": make_type().pk}

    answer, _ = sent(client, address, **values)
    again, _ = sent(client, address, **values)

    assert answer.status_code == 302
    assert VehicleVersion.objects.get(number="T 300").since == at("2016")
    assert "Another vehicle bears the number" in words(again)
    assert again.context["form"].errors.keys() == {"number"}


def test_a_vehicle_is_altered_from_a_date_on_and_corrected_with_a_reason(
    client, planner, vehicle
):
    client.force_login(planner)
    values = VEHICLE | {"type": make_type().pk, "number": "T 107"}

    altered, _ = sent(
        client,
        reverse("register:vehicle-alter", args=[vehicle.pk]),
        **values | {"since_day": "2021-01-01", "empty_load": "on"},
    )
    corrected, _ = sent(
        client,
        reverse("register:vehicle-correct", args=[vehicle.pk]),
        **values | {"since_day": "2021-02-01", "empty_load": "on", "tare_t": "34.5"},
        reason="weighed",
    )

    assert (altered.status_code, corrected.status_code) == (302, 302)
    held = VehicleVersion.objects.current().filter(vehicle=vehicle)
    assert held.holding_at(at("2021-01-31")).get().empty_load is False
    newest = held.holding_at(at("2021-02-01")).get()
    assert (newest.empty_load, newest.tare_t, newest.reason) == (True, 34.5, "weighed")


def test_usage_is_logged_and_a_meter_read(client, fitter, vehicle):
    client.force_login(fitter)
    address = reverse("register:usage-add", args=[vehicle.pk])

    logged, _ = sent(
        client, address, first="2020-01-01", last="2020-01-31", miles="120.5", days="9"
    )
    twice, _ = sent(
        client, address, first="2020-01-31", last="2020-02-01", miles="1", days="1"
    )
    read, _ = sent(
        client, f"{address}?meter", on="2020-03-01", meter_miles="5000", days="0"
    )

    assert (logged.status_code, read.status_code) == (302, 302)
    assert "the same miles would count twice" in words(twice)
    assert Usage.objects.filter(vehicle=vehicle).count() == 2


def test_a_form_about_a_day_starts_with_today(client, fitter, vehicle):
    client.force_login(fitter)
    with time_machine.travel(
        dt.datetime(2026, 2, 3, 10, 30, tzinfo=dt.UTC), tick=False
    ):
        usage = client.get(reverse("register:usage-add", args=[vehicle.pk]))
        off = client.get(place_url("fit", vehicle))

    assert 'value="2026-02-03"' in usage.content.decode()
    assert 'value="2026-02-03"' in off.content.decode()
    assert 'value="10:30"' in off.content.decode()


def test_a_vehicle_is_put_into_storage_and_returned(client, planner, vehicle):
    client.force_login(planner)

    sent(
        client,
        reverse("register:vehicle-store", args=[vehicle.pk]),
        since_day="2021-11-01",
        place="Tarn siding",
    )
    page = words(client.get(reverse("register:vehicle-return", args=[vehicle.pk])))
    sent(
        client,
        reverse("register:vehicle-return", args=[vehicle.pk]),
        at_day="2022-03-01",
    )

    assert "Stored since 1 Nov 2021" in page
    assert str(StoragePeriod.objects.current().get().until) == "1 Mar 2022"


def test_a_hose_is_added_with_the_particulars_of_its_kind(client, planner):
    make_depot()
    client.force_login(planner)
    address = f"{reverse('register:equipment-add')}?kind=bp_hose"

    answer, _ = sent(
        client,
        address,
        serial="H 77",
        made="2015-Q3",
        state="serviceable",
        length_mm="620",
        batch="B12",
    )

    assert answer.status_code == 302
    assert HoseParticulars.objects.get().batch == "B12"
    assert EquipmentVersion.objects.get().made == at("2015-Q3")


def test_an_item_is_altered_and_corrected(client, planner):
    item = make_equipment(
        EquipmentKind.BP_HOSE, serial="H 1", particulars={"batch": "B1"}
    )
    client.force_login(planner)

    altered, _ = sent(
        client,
        reverse("register:equipment-alter", args=[item.pk]),
        since_day="2021-01-01",
        serial="H 1",
        state="quarantined",
        batch="B1",
    )
    corrected, _ = sent(
        client,
        reverse("register:equipment-correct", args=[item.pk]),
        serial="H 1",
        state="quarantined",
        made="2013",
        batch="B7",
        reason="marking cleaned",
    )

    assert (altered.status_code, corrected.status_code) == (302, 302)
    held = EquipmentVersion.objects.current().filter(equipment=item)
    assert held.holding_at(at("2020")).get().state == "serviceable"
    newest = held.open_ended().get()
    assert (newest.state, newest.made) == ("quarantined", at("2013"))
    assert HoseParticulars.objects.current().open_ended().get().batch == "B7"


def test_a_type_is_revised_from_its_present_positions(client, planner):
    make_type("van")
    client.force_login(planner)
    address = reverse("register:type-revise", args=["van"])
    page = client.get(address)
    places = page.context["places"]
    data = {"submission": str(page.context["form"]["submission"].value())}
    for form in places:
        for bound in form:
            value = bound.value()
            if value not in {None, False}:
                data[bound.html_name] = "on" if value is True else value
    data |= {
        "places-TOTAL_FORMS": places.total_form_count(),
        "places-INITIAL_FORMS": places.initial_form_count(),
        "places-0-DELETE": "on",
        "name": "Van, one end",
        "effective_from": "2020-01-01",
        "reason": "hose removed",
    }

    answer = client.post(address, data)

    assert answer.status_code == 302
    first, second = TypeRevision.objects.current().filter(type__code="van")
    assert second.positions.count() == first.positions.count() - 1
    assert (second.reason, second.number) == ("hose removed", 2)
    kept = [p.code for p in second.positions.all()]
    assert kept == [p.code for p in first.positions.all()][1:]
