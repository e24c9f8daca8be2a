"""Tables of the workshop: what work takes, what runs, what there is, what is planned."""

from fleet.workshop.models.capacity import (
    Closure,
    ClosureVersion,
    Contractor,
    ContractorVersion,
    ShopPlace,
    ShopPlaceVersion,
    WorkTime,
    WorkTimeVersion,
)
from fleet.workshop.models.diary import DiaryLine, DiaryLineVersion
from fleet.workshop.models.exchange import (
    Consignment,
    ConsignmentItem,
    ConsignmentVersion,
    ExchangeGroup,
    ExchangeGroupVersion,
    UnitReturn,
)
from fleet.workshop.models.plans import CalendarFeed, JobPlan, JobPlanVersion
from fleet.workshop.models.programmes import (
    Pin,
    PinVersion,
    PlannedJob,
    PlannedVisit,
    Programme,
    ProgrammeRun,
)

__all__ = [
    "CalendarFeed",
    "Closure",
    "ClosureVersion",
    "Consignment",
    "ConsignmentItem",
    "ConsignmentVersion",
    "Contractor",
    "ContractorVersion",
    "DiaryLine",
    "DiaryLineVersion",
    "ExchangeGroup",
    "ExchangeGroupVersion",
    "JobPlan",
    "JobPlanVersion",
    "Pin",
    "PinVersion",
    "PlannedJob",
    "PlannedVisit",
    "Programme",
    "ProgrammeRun",
    "ShopPlace",
    "ShopPlaceVersion",
    "UnitReturn",
    "WorkTime",
    "WorkTimeVersion",
]
