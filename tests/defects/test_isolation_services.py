"""Isolation records: which lines are asked, when the record is complete, restoring."""

import pytest

from fleet.defects import services
from fleet.defects.models import IsolationLine, IsolationVersion
from fleet.defects.vocabulary import Extent, IsolationLineKind
from fleet.engineering.calendar import Moment
from fleet.register.vocabulary import (
    CockPosition,
    EquipmentKind,
    Fitment,
    Scope,
    System,
)
from tests.defects.factories import (
    DAY,
    answers,
    at,
    make_defect,
    make_isolation,
    person,
    refused,
)
from tests.register.factories import (
    air_places,
    make_type,
    make_vehicle,
    place,
    vacuum_places,
)

pytestmark = pytest.mark.django_db


def full_coach():
    """A two-pipe coach with every isolating cock there is."""
    cocks = [
        place(
            code,
            label,
            kind,
            Scope.AIR_BRAKE,
            normal=CockPosition.OPEN,
        )
        for code, label, kind in (
            ("mr-feed", "Main reservoir feed cock", EquipmentKind.MR_ISOLATING_COCK),
            (
                "bogie-1",
                "Cylinder cock, bogie 1",
                EquipmentKind.CYLINDER_ISOLATING_COCK,
            ),
            (
                "bogie-2",
                "Cylinder cock, bogie 2",
                EquipmentKind.CYLINDER_ISOLATING_COCK,
            ),
        )
    ]
    positions = [*air_places(), *cocks]
    return make_vehicle(type=make_type("coach-cocks", positions=positions))


def vacuum_van():
    """A van with the vacuum brake alone."""
    return make_vehicle(
        type=make_type("van-vacuum", positions=vacuum_places()),
        air=Fitment.NONE,
        vacuum=Fitment.BRAKED,
        main_reservoir_pipe="none",
    )


def left(line):
    """How a line says its cock was left."""
    return {"found": "open", "left": line}


def test_every_isolating_cock_of_the_type_is_asked_but_no_end_cock():
    lines = services.isolation_lines(full_coach(), System.AIR, DAY)

    assert [(line["kind"], line["position"]) for line in lines] == [
        ("cock", "distributor-cock"),
        ("cock", "mr-feed"),
        ("cock", "bogie-1"),
        ("cock", "bogie-2"),
        ("vented", ""),
        ("blocks_clear", ""),
        ("label", ""),
    ]
    assert [line["isolates"] for line in lines[:4]] == [True, True, False, False]


def test_vacuum_is_isolated_by_a_blank_not_by_pulling_the_cord():
    lines = services.isolation_lines(vacuum_van(), System.VACUUM, DAY)

    assert [line["kind"] for line in lines] == [
        IsolationLineKind.BLANKED,
        IsolationLineKind.VENTED,
        IsolationLineKind.BLOCKS_CLEAR,
        IsolationLineKind.LABEL,
    ]


def test_air_without_an_isolating_cock_asks_for_a_blank():
    bare = [p for p in air_places() if p["code"] != "distributor-cock"]
    vehicle = make_vehicle(type=make_type("wagon-bare", positions=bare))

    lines = services.isolation_lines(vehicle, System.AIR, DAY)

    assert lines[0]["kind"] == IsolationLineKind.BLANKED


@pytest.mark.parametrize("vacuum", [Fitment.NONE, Fitment.PIPED])
def test_a_brake_that_is_not_there_cannot_be_isolated(vacuum):
    vehicle = make_vehicle(vacuum=vacuum)

    with refused("no_brake_to_isolate"):
        services.isolation_lines(vehicle, System.VACUUM, DAY)


def test_with_every_line_answered_and_the_cocks_closed_it_is_complete():
    version = make_isolation(vehicle=full_coach())

    assert version.complete
    assert version.lines.count() == 7


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("distributor_cock", {"left": ""}),
        ("distributor_cock", {"found": ""}),
        ("distributor_cock", left("open")),
        ("mr_feed", left("open")),
        ("bogie_2", {"left": ""}),
        ("vented", {"done": None}),
        ("vented", {"done": False}),
        ("blocks_clear", {"done": None}),
        ("label", {"done": False}),
    ],
)
def test_one_line_short_and_it_is_recorded_as_incomplete(line, answer):
    vehicle = full_coach()

    version = make_isolation(vehicle=vehicle, lines=answers(vehicle, **{line: answer}))

    assert not version.complete
    assert version.lines.count() == 7


def test_a_cylinder_cock_may_stay_open_when_the_whole_brake_is_out():
    vehicle = full_coach()

    assert make_isolation(
        vehicle=vehicle, lines=answers(vehicle, bogie_1=left("open"))
    ).complete


def test_nothing_answered_is_a_record_too_and_incomplete():
    version = make_isolation(lines=[])

    assert not version.complete
    assert {line.answered for line in version.lines.all()} == {False}


def test_part_of_a_brake_out_needs_a_closed_cock_and_words_for_the_crew():
    vehicle = full_coach()
    part = {"vehicle": vehicle, "extent": Extent.PART}
    one = answers(vehicle, distributor_cock=left("open"), mr_feed=left("open"))
    none_closed = list(one)
    bogie = answers(
        vehicle,
        distributor_cock=left("open"),
        mr_feed=left("open"),
        bogie_1=left("closed"),
    )

    with refused("no_condition"):
        make_isolation(lines=bogie, **part)
    words = {"condition": "One bogie braked."}

    assert make_isolation(lines=bogie, **part, **words).complete
    other = full_coach()
    assert not make_isolation(
        vehicle=other, lines=none_closed, extent=Extent.PART, **words
    ).complete


def test_a_cock_found_out_of_its_normal_position_is_told():
    vehicle = full_coach()
    found = {"found": "closed", "left": "closed"}

    version = make_isolation(vehicle=vehicle, lines=answers(vehicle, mr_feed=found))

    assert [line.position for line in version.lines.all() if line.found_wrong] == [
        "mr-feed"
    ]


def test_an_answer_to_a_line_nobody_asked_is_refused():
    vehicle = make_vehicle()
    stray = {"kind": "cock", "position": "boiler", "left": "open"}

    with refused("no_such_line"):
        make_isolation(vehicle=vehicle, lines=[stray])


@pytest.mark.parametrize(
    ("since", "code"),
    [
        (Moment.unknown(), "unknown_date"),
        (Moment.parse("2190-01-01"), "in_the_future"),
        (Moment.parse("2001-01-01"), "vehicle_not_recorded_then"),
    ],
)
def test_an_isolation_needs_a_date_that_can_be(since, code):
    vehicle = make_vehicle()

    with refused(code):
        make_isolation(vehicle=vehicle, since=since, lines=[])


def test_a_brake_already_isolated_is_not_isolated_again():
    version = make_isolation()

    with refused("already_isolated"):
        make_isolation(vehicle=version.vehicle, since=at(12))
    services.restore_brake(by=None, person=person(), version=version, at=at(13))

    assert make_isolation(vehicle=version.vehicle, since=at(14)).complete


def test_an_incomplete_record_is_completed_from_a_time_on_and_both_states_stay():
    vehicle = full_coach()
    first = make_isolation(
        vehicle=vehicle, lines=answers(vehicle, vented={"done": None})
    )

    second = services.complete_isolation(
        by=None,
        person=person(),
        version=first,
        at=at(11),
        lines=[{"kind": "vented", "done": True}],
        label_number="L 12",
    )

    held = IsolationVersion.objects.current().filter(isolation=first.isolation)
    assert [(v.since, v.until, v.complete) for v in held.order_by("since_key")] == [
        (at(9), at(11), False),
        (at(11), None, True),
    ]
    assert second.label_number == "L 12"
    assert all(v.lines.count() == 7 for v in held)
    with refused("already_superseded"):
        services.complete_isolation(
            by=None, person=person(), version=first, at=at(12), lines=[]
        )


@pytest.mark.parametrize(
    ("moment", "code"),
    [
        (at(8), "before_the_last_step"),
        (Moment.on(DAY), "time_needed"),
        (Moment.parse("2190"), "in_the_future"),
        (Moment.unknown(), "unknown_date"),
    ],
)
def test_a_record_goes_on_only_after_it_began(moment, code):
    version = make_isolation()
    told = {"by": None, "person": person(), "version": version, "at": moment}

    with refused(code):
        services.complete_isolation(lines=[], **told)
    with refused(code):
        services.restore_brake(**told)


def test_restoring_puts_every_cock_to_its_normal_position_and_takes_the_label_off():
    vehicle = full_coach()
    signer = person()
    version = make_isolation(
        vehicle=vehicle, defect=make_defect(vehicle=vehicle, position="distributor")
    )

    ended = services.restore_brake(by=None, person=signer, version=version, at=at(15))

    assert (ended.until, ended.restored_by, ended.complete) == (at(15), signer, True)
    back = ended.lines.filter(kind=IsolationLineKind.PUT_BACK)
    assert [(ln.position, ln.found, ln.left) for ln in back if ln.position] == [
        ("distributor-cock", "closed", "open"),
        ("mr-feed", "closed", "open"),
        ("bogie-1", "open", "open"),
        ("bogie-2", "open", "open"),
    ]
    assert [ln.label for ln in back if not ln.position] == [
        "Label taken off both sides"
    ]
    with refused("already_restored"):
        services.restore_brake(by=None, person=signer, version=ended, at=at(16))


def test_a_cock_left_out_of_place_means_the_brake_is_not_restored():
    version = make_isolation()
    told = {"by": None, "person": person(), "version": version, "at": at(15)}
    lines = services.restoring_lines(version)
    lines[0]["left"] = "closed"

    with refused("not_put_back"):
        services.restore_brake(lines=lines, **told)
    with refused("not_put_back"):
        services.restore_brake(lines=[], **told)

    services.restore_brake(lines=services.restoring_lines(version), **told)


def test_a_vacuum_blank_is_taken_out_when_the_brake_is_restored():
    version = make_isolation(vehicle=vacuum_van(), system=System.VACUUM)

    back = services.restoring_lines(version)

    assert [line["label"] for line in back] == [
        "Blank or plug taken out",
        "Label taken off both sides",
    ]


def test_a_record_of_the_wrong_vehicle_is_taken_back_and_still_shown():
    version = make_isolation()

    with refused("no_reason"):
        services.retract_isolation(by=None, isolation=version.isolation, reason=" ")
    services.retract_isolation(
        by=None, isolation=version.isolation, reason="Wrong vehicle"
    )

    assert not IsolationVersion.objects.current().exists()
    assert IsolationVersion.objects.count() == 2
    assert IsolationLine.objects.filter(version__reason="Wrong vehicle").exists()
    assert make_isolation(vehicle=version.vehicle).complete


@pytest.mark.parametrize("size", [2, 6])
def test_a_list_of_isolations_reads_once_whatever_its_length(
    size, django_assert_num_queries
):
    for _ in range(size):
        make_isolation()

    with django_assert_num_queries(1):
        shown = [
            (v.number, v.isolation.system, str(v.by))
            for v in IsolationVersion.objects.current().for_list()
        ]

    assert len(shown) == size
