"""Exchange units of one group, the coaches they sit on, and the work that takes them."""

from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.records.deeds import deed
from fleet.records.versions import identify, open_version
from fleet.register.models import Fitting, VehicleVersion
from fleet.register.services.equipment import alter_equipment
from fleet.register.vocabulary import EquipmentKind
from fleet.upkeep.models import Requirement
from fleet.upkeep.vocabulary import Subject
from fleet.workshop.exchange_services import describe_group
from fleet.workshop.models import JobPlan, JobPlanVersion
from tests.examination.factories import make_bench_test, make_test
from tests.register.factories import make_equipment
from tests.upkeep.factories import make_requirement
from tests.web.scenes import TODAY, coach, make_practice

CODE = "DV/P"


def unit(**values):
    """A serviceable distributor of the group, in store."""
    return make_equipment(**{"group": CODE} | values)


def described(**values):
    """The group, described."""
    return describe_group(by=None, code=CODE, **{"label": "distributors"} | values)


def address(verb, code=CODE):
    """The address of a page of a group."""
    return reverse(f"workshop:exchange-{verb}", args=[code])


def falling_due(number, tested):
    """A coach whose distributor of the group was overhauled on a day."""
    vehicle = coach(number)
    item = vehicle.fittings.get(position="distributor", closed_by=None).equipment
    make_test(equipment=item, procedure=make_bench_test(), on=Moment.parse(tested))
    return vehicle


def job_takes_one(code):
    """The work of a requirement takes an exchange unit."""
    with deed("test.plan", by=None) as entry:
        requirement = Requirement.objects.get(code=code)
        plan = identify(JobPlan, entry=entry, requirement=requirement)
        hours = {"bench": 4}
        open_version(JobPlanVersion, entry=entry, plan=plan, hours=hours, exchange=True)


def coach_distributor(number):
    """What sits in the distributor's place of a coach."""
    vehicle = VehicleVersion.objects.newest().get(number=number).vehicle
    rows = Fitting.objects.current().open_ended()
    return rows.get(vehicle=vehicle, position="distributor").equipment


def regroup(item):
    """Write the group on an item."""
    alter_equipment(by=None, equipment=item, since=Moment.on(TODAY), group=CODE)


def overhauls_due(months, **tested):
    """An overhaul that takes a unit, every so many months; coaches last overhauled on days."""
    make_practice()
    make_requirement(
        code="dv-overhaul",
        title="Distributor overhaul",
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.DISTRIBUTOR,
        procedure=make_bench_test(),
        months=months,
    )
    job_takes_one("dv-overhaul")
    for number, day_of in tested.items():
        falling_due(number, day_of)
        regroup(coach_distributor(number))
