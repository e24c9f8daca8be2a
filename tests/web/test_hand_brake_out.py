"""A handbrake out of use, told from the bent rod to the test after it is back."""

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from fleet.defects import services as defects
from fleet.defects.models import Isolation
from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import Moment
from fleet.people.access import person_of
from fleet.register.vocabulary import Effect, Scope
from fleet.reports.loading import printed_at, statement_of
from fleet.ui.cautions import caution
from fleet.upkeep.vocabulary import Change
from tests.defects.factories import answers, person
from tests.examination.factories import make_procedure, make_test, question
from tests.upkeep.factories import make_conditions, make_matrix_line
from tests.web.reading import main, part, plain, rows, words
from tests.web.scenes import TODAY, coach, make_practice, on, standing_at_today

pytestmark = pytest.mark.django_db

OUT = (
    "Handbrake out of use: not to be left standing unless secured by other means; not to "
    "be the vehicle that secures the train."
)
UNPROVED = "Handbrake not proved: not left standing on it."


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def proved():
    """The handbrake test, and the line that asks for it once a handbrake is back."""
    holds = question("Holds against a pull", "Holds", scope=Scope.HAND_BRAKE)
    test = make_procedure(
        "handbrake", title="Handbrake test", lines=[holds], scopes=[Scope.HAND_BRAKE]
    )
    make_matrix_line(
        code="M-14",
        change_kind=Change.ISOLATION_ENDED,
        kind="",
        procedures=[test],
        scope=Scope.HAND_BRAKE,
        effect=Effect.CONDITION,
        condition=UNPROVED,
    )
    return test


def page_of(client, vehicle, **asked):
    """The vehicle's page on a day."""
    return client.get(reverse("web:vehicle", args=[vehicle.pk]), asked)


def form_sent(answer, **given):
    """What a form of lines sends with everything seen to, and `given` besides."""
    form = answer.context["form"]
    lines = {name: "yes" for name in form.fields if name.startswith("line-")}
    return {"submission": uuid.uuid4(), **lines, **given}


def test_from_the_bent_rod_to_the_handbrake_test_everybody_is_told(
    client, manager, proved
):
    make_practice()
    vehicle = coach("T 1")
    client.force_login(manager)
    me = person_of(manager).pk
    assert "Fit to run braked" in words(page_of(client, vehicle))

    record = taken_down_on_the_fourth(client, vehicle, me)
    the_register_says_what_holds_it(client, record)
    nobody_is_told_it_is_fit(client, vehicle, record)

    back_on_the_sixth(client, record, me)
    assert OUT not in words(page_of(client, vehicle))
    assert UNPROVED in words(page_of(client, vehicle))
    assert "None recorded" in words(client.get("/isolations/"))
    assert OUT in words(page_of(client, vehicle, on="2026-05-05"))

    test = make_test(vehicle=vehicle, procedure=proved, on=on("2026-05-07", "09:00"))
    assert "Fit to run braked" in words(page_of(client, vehicle))
    assert test.test.get_absolute_url() in main(client.get("/isolations/"))


def taken_down_on_the_fourth(client, vehicle, me):
    """The rod comes down; scotches are in, and where they are has to be said."""
    add = reverse("defects:isolation-add", args=[vehicle.pk, "hand"])
    assert add in main(page_of(client, vehicle))
    asked = client.get(add)
    assert caution("handbrake_out").text in words(asked)
    assert "Linkage disconnected" in words(asked)
    assert "Vehicle secured by other means" in words(asked)
    assert "Braked weight" not in words(asked)
    sent = form_sent(
        asked,
        why="Pull rod bent",
        label_number="L-3",
        label_where="On the wheel",
        since_day="2026-05-04",
        since_time="10:00",
        person=me,
    )
    assert "Say by what the vehicle is secured" in words(client.post(add, sent))
    assert not Isolation.objects.exists()
    sent |= {"submission": uuid.uuid4(), "secured": "scotches, both leading wheels"}
    return client.post(add, sent).url


def the_register_says_what_holds_it(client, record):
    """The record and the register name the scotches and the label."""
    assert "Handbrake out of use" in words(client.get(record))
    assert "scotches, both leading wheels" in words(client.get(record))
    (row,) = rows(main(client.get("/isolations/")))[:1]
    assert row["Isolated"] == "Handbrake secured by: scotches, both leading wheels"
    assert "L-3" in row["Label"]


def nobody_is_told_it_is_fit(client, vehicle, record):
    """It brakes as before, never without the condition: page, board, paper, why."""
    shown = page_of(client, vehicle)
    assert "Fit braked, with conditions" in words(shown)
    assert OUT in words(shown)
    assert "scotches, both leading wheels" in words(shown)
    assert caution("handbrake_out").text in words(shown)
    assert record in part(shown, "outstanding")
    (line,) = rows(main(client.get("/")))
    assert OUT in " ".join(line.values())
    explained = words(client.get(reverse("web:explain", args=[vehicle.pk])))
    assert "Handbrake isolated 4 May 2026" in explained
    assert "Pull rod bent" in explained
    at = dt.datetime.combine(TODAY, dt.time(9))
    sheet = statement_of(vehicle.pk, on=TODAY, printed=printed_at(at))
    assert ("Handbrake", "Fitted, OUT OF USE") in sheet.particulars
    assert any(OUT in text for text in sheet.conditions)
    assert any("scotches, both leading wheels" in text for text in sheet.isolations)


def back_on_the_sixth(client, record, me):
    """Straight again and back in use, but nobody has tried whether it holds."""
    restore = f"{record}restore/"
    sent = form_sent(
        client.get(restore), at_day="2026-05-06", at_time="15:00", person=me
    )
    assert client.post(restore, sent).url == record


def test_leave_to_move_it_stands_on_the_statement_with_its_limits():
    make_practice()
    vehicle = coach("T 1")
    version = defects.record_isolation(
        by=None,
        person=person(),
        vehicle=vehicle,
        system=Brake.HAND,
        since=on("2026-05-04"),
        why="Pawl broken",
        lines=answers(vehicle, Brake.HAND),
        secured="scotches",
    )
    defects.authorise_move(
        by=None,
        isolation=version.isolation,
        person=person("Una Fell"),
        since=dt.date(2026, 5, 8),
        last_day=dt.date(2026, 5, 12),
        destination="Wenlow works",
        limits="15 mph, not last in the train.",
    )
    printed = printed_at(dt.datetime.combine(TODAY, dt.time(9)))

    sheet = statement_of(vehicle.pk, on=TODAY, printed=printed)
    later = statement_of(vehicle.pk, on=dt.date(2026, 5, 13), printed=printed)

    leave = [words for words in sheet.isolations if "Authority to move" in words]
    assert leave == [
        "Authority to move, handbrake out of use: to Wenlow works, 8 May 2026 to "
        "12 May 2026, given by Una Fell. Limits: 15 mph, not last in the train."
    ]
    assert not any("Authority to move" in words for words in later.isolations)


def test_a_line_not_answered_keeps_the_vehicle_from_running_until_it_is(client, fitter):
    make_practice()
    vehicle = coach("T 1")
    client.force_login(fitter)
    version = defects.record_isolation(
        by=None,
        person=person(),
        vehicle=vehicle,
        system=Brake.HAND,
        since=on("2026-05-04"),
        why="Pawl broken",
        lines=answers(vehicle, Brake.HAND, secured={"done": None}),
    )
    assert "Isolation record not complete: handbrake" in words(page_of(client, vehicle))
    assert "Not to run" in words(page_of(client, vehicle))

    defects.complete_isolation(
        by=None,
        person=person(),
        version=version,
        at=on("2026-05-05"),
        lines=answers(vehicle, Brake.HAND),
        secured="chained to the stops, road 2",
    )

    assert "Fit braked, with conditions" in words(page_of(client, vehicle))
    assert "chained to the stops, road 2" in words(page_of(client, vehicle))


@pytest.mark.parametrize(
    ("effect", "stands"),
    [
        (Effect.CONDITION, "Fit braked, with conditions"),
        (Effect.DISCOUNT, "Convey as piped"),
        (Effect.STOP, "Not to run"),
    ],
)
def test_the_operator_says_how_much_a_handbrake_out_of_use_takes(
    client, fitter, effect, stands
):
    make_conditions(hand_brake_out_effect=effect)
    vehicle = coach("T 1")
    client.force_login(fitter)
    defects.record_isolation(
        by=None,
        person=person(),
        vehicle=vehicle,
        system=Brake.HAND,
        since=Moment.on(dt.date(2026, 5, 4)),
        why="Pawl broken",
        lines=answers(vehicle, Brake.HAND),
        secured="scotches",
    )

    head = main(page_of(client, vehicle)).split('<div class="standing')[1]
    assert stands in plain(head.split("</div>")[0])


def test_a_vehicle_without_a_handbrake_has_none_to_take_out_of_use(client, manager):
    make_practice()
    vehicle = coach("T 1", hand_brake=False)
    client.force_login(manager)
    add = reverse("defects:isolation-add", args=[vehicle.pk, "hand"])

    assert add not in main(page_of(client, vehicle))
    answer = client.get(add)
    assert answer.status_code == 409
    assert "recorded as having no handbrake" in words(answer)


def test_releasing_a_vehicle_warns_that_its_handbrake_is_still_out_of_use(
    client, manager
):
    make_practice()
    vehicle = coach("T 1")
    defects.record_isolation(
        by=None,
        person=person(),
        vehicle=vehicle,
        system=Brake.HAND,
        since=on("2026-05-04"),
        why="Pawl broken",
        lines=answers(vehicle, Brake.HAND),
        secured="scotches",
    )
    work = defects.start_work(
        by=None, person=person(), vehicle=vehicle, what="Pawl", since=on("2026-05-05")
    )
    client.force_login(manager)

    shown = client.get(reverse("defects:work-release", args=[work.pk]))

    assert "The handbrake is still recorded as out of use" in words(shown)


def test_a_defect_of_the_handbrake_offers_to_take_it_out_of_use_and_only_it(
    client, manager
):
    make_practice()
    vehicle = coach("T 1")
    client.force_login(manager)
    defect = defects.raise_defect(
        by=None,
        person=person(),
        title="Pull rod bent",
        on=on("2026-05-04", "08:00"),
        vehicle=vehicle,
        scope=Scope.HAND_BRAKE,
        effect=Effect.CONDITION,
        condition="Not to be left standing on it.",
    )

    offered = main(client.get(defect.get_absolute_url()))

    assert f"{reverse('defects:isolation-add', args=[vehicle.pk, 'hand'])}?" in offered
    assert reverse("defects:isolation-add", args=[vehicle.pk, "air"]) not in offered
