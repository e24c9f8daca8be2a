"""Tables of the register: depots, vehicle types, vehicles, equipment, where it is."""

import uuid
from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.records.guards import NoOverlap
from fleet.records.models import Frozen, Identity, Lasting, Version
from fleet.records.refusing import refusing
from fleet.register.managers import (
    EquipmentQuerySet,
    EquipmentVersionQuerySet,
    FittingQuerySet,
    RatingsQuerySet,
    StorageQuerySet,
    TypeRevisionQuerySet,
    UsageQuerySet,
    VehicleQuerySet,
    VehicleVersionQuerySet,
)
from fleet.register.vocabulary import (
    CockPosition,
    Effect,
    EquipmentKind,
    EquipmentState,
    Fitment,
    MainReservoirPipe,
    Scope,
    Timing,
    VehicleStatus,
    arrangement_words,
)


class Depot(models.Model):
    """A place vehicles belong to and equipment is stored at. A reference table."""

    code = models.SlugField(max_length=12, unique=True)
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class VehicleType(Identity):
    """A type of vehicle; what it carries is in its revisions."""

    code = models.SlugField(max_length=30, unique=True)

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return self.code


class TypeRevision(Version):
    """The positions of a type from a date on."""

    type = models.ForeignKey(VehicleType, models.PROTECT, related_name="revisions")
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    effective_from = models.DateField()
    source = models.CharField(max_length=200, blank=True, default="")

    objects: ClassVar = TypeRevisionQuerySet.as_manager()

    class Meta:
        ordering = ("type", "number")
        constraints = (
            models.UniqueConstraint(
                name="register_type_revision_number",
                fields=("type", "number"),
                condition=Q(closed_by__isnull=True),
            ),
        )

    def __str__(self) -> str:
        return f"{self.name} (revision {self.number})"


class Position(Frozen):
    """A place on a type where an item sits: its code never changes its meaning."""

    revision = models.ForeignKey(TypeRevision, models.PROTECT, related_name="positions")
    code = models.SlugField(max_length=30)
    label = models.CharField(max_length=80)
    kind = models.CharField(max_length=30, choices=EquipmentKind.choices())
    scope = models.CharField(max_length=20, choices=Scope.choices())
    end = models.PositiveSmallIntegerField(
        null=True, blank=True, choices=((1, "No. 1 end"), (2, "No. 2 end"))
    )
    mandatory = models.BooleanField(default=True)
    effect_missing = models.CharField(
        max_length=10, choices=Effect.choices(), default=Effect.ISOLATE
    )
    normal = models.CharField(
        max_length=6,
        choices=CockPosition.choices(),
        blank=True,
        default=CockPosition.NONE,
    )
    group = models.CharField(max_length=30, blank=True, default="")
    bore_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    min_pressure_bar = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True
    )
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("revision", "order", "code")
        constraints = (
            models.UniqueConstraint(
                name="register_position_code", fields=("revision", "code")
            ),
        )

    def __str__(self) -> str:
        return self.label


class Vehicle(Identity):
    """A vehicle, whatever number it bears."""

    uuid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)

    objects = VehicleQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Vehicle {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the vehicle's page."""
        return reverse("web:vehicle", args=[self.pk])


class VehicleVersion(Version, Lasting):
    """A vehicle's particulars over an interval."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="versions")
    number = models.CharField("running number", max_length=20)
    type = models.ForeignKey(VehicleType, models.PROTECT, related_name="+")
    tare_t = models.DecimalField(
        "tare (t)",
        max_digits=6,
        decimal_places=2,
        null=True,
        blank=True,
        validators=(MinValueValidator(1),),
    )
    depot = models.ForeignKey(Depot, models.PROTECT, null=True, blank=True)
    air = models.CharField(
        max_length=6, choices=Fitment.choices(), default=Fitment.NONE
    )
    vacuum = models.CharField(
        max_length=6, choices=Fitment.choices(), default=Fitment.NONE
    )
    main_reservoir_pipe = models.CharField(
        max_length=7,
        choices=MainReservoirPipe.choices(),
        default=MainReservoirPipe.NONE,
    )
    timing = models.CharField(
        max_length=10, choices=Timing.choices(), blank=True, default=Timing.NONE
    )
    empty_load = models.BooleanField("empty/load gear", default=False)
    hand_brake = models.BooleanField("handbrake", default=True)
    status = models.CharField(
        max_length=12,
        choices=VehicleStatus.choices(),
        default=VehicleStatus.NOT_ACCEPTED,
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_vehicle_one_state",
            ("vehicle_id",),
            "The vehicle already has particulars for part of that time.",
            "particulars_overlap",
            "since",
        ),
        NoOverlap(
            "register_vehicle_number_taken",
            ("number",),
            "Another vehicle bears this running number at that time.",
            "number_taken",
            "number",
        ),
    )

    objects: ClassVar = VehicleVersionQuerySet.as_manager()

    class Meta:
        ordering = ("number",)
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="register_vehiclever"),
            models.Index(fields=["number"], name="register_vehicle_number"),
        )

    def __str__(self) -> str:
        return self.number

    @property
    def arrangement(self) -> str:
        """Return the brake arrangement in words."""
        return arrangement_words(self.air, self.vacuum, self.main_reservoir_pipe)

    def clean(self) -> None:
        """Refuse arrangements that cannot be built."""
        piped = self.main_reservoir_pipe != MainReservoirPipe.NONE
        if piped and self.air == Fitment.NONE:
            raise refusing(
                "A main reservoir pipe needs air pipes.",
                code="pipe_without_air",
                field="main_reservoir_pipe",
            )


class Equipment(Identity):
    """An item of equipment, wherever it is."""

    uuid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=30, choices=EquipmentKind.choices())

    objects = EquipmentQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "equipment"

    def __str__(self) -> str:
        return f"{EquipmentKind(self.kind).label} {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the item's page."""
        return reverse("register:equipment", args=[self.pk])


class EquipmentVersion(Version, Lasting):
    """What is held of an item over an interval: serial, make date, standing."""

    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="versions")
    kind = models.CharField(max_length=30, choices=EquipmentKind.choices())
    serial = models.CharField("serial number", max_length=30)
    designation = models.CharField(
        "type designation", max_length=30, blank=True, default=""
    )
    group = models.CharField(
        "interchangeability group", max_length=30, blank=True, default=""
    )
    made_earliest = models.DateField(null=True, blank=True)
    made_latest = models.DateField(null=True, blank=True)
    bore_mm = models.PositiveSmallIntegerField("bore (mm)", null=True, blank=True)
    pressure_bar = models.DecimalField(
        "rated pressure (bar)", max_digits=6, decimal_places=2, null=True, blank=True
    )
    state = models.CharField(
        max_length=13,
        choices=EquipmentState.choices(),
        default=EquipmentState.SERVICEABLE,
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_equipment_one_state",
            ("equipment_id",),
            "The item already has a standing for part of that time.",
            "particulars_overlap",
            "since",
        ),
        NoOverlap(
            "register_equipment_serial_taken",
            ("kind", "serial"),
            "Another item of this kind bears this serial number.",
            "serial_taken",
            "serial",
        ),
    )

    objects: ClassVar = EquipmentVersionQuerySet.as_manager()

    class Meta:
        ordering = ("kind", "serial")
        indexes = (
            models.Index(fields=["equipment", "closed_by"], name="register_itemver"),
            models.Index(fields=["serial"], name="register_item_serial"),
        )

    def __str__(self) -> str:
        return f"{EquipmentKind(self.kind).label} {self.serial}"

    @property
    def made(self) -> Moment:
        """Return when it was made; ages count from its earliest day."""
        return Moment(self.made_earliest, self.made_latest)


class DistributorParticulars(Version, Lasting):
    """Ratings of a distributor or triple valve."""

    equipment = models.ForeignKey(
        Equipment, models.PROTECT, related_name="distributor_particulars"
    )
    timing = models.CharField(
        max_length=10, choices=Timing.choices(), blank=True, default=Timing.NONE
    )
    bracket = models.CharField(max_length=30, blank=True, default="")
    max_cylinder_bar = models.DecimalField(
        "maximum cylinder pressure (bar)",
        max_digits=4,
        decimal_places=2,
        null=True,
        blank=True,
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_distributor_one_rating",
            ("equipment_id",),
            "The item already has ratings for part of that time.",
            "particulars_overlap",
        ),
    )

    objects: ClassVar = RatingsQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Ratings of distributor {self.equipment_id}"


class ReservoirParticulars(Version, Lasting):
    """Ratings of a reservoir, from its plate or drawing."""

    equipment = models.ForeignKey(
        Equipment, models.PROTECT, related_name="reservoir_particulars"
    )
    volume_l = models.DecimalField(
        "volume (l)", max_digits=7, decimal_places=2, null=True, blank=True
    )
    working_pressure_bar = models.DecimalField(
        "working pressure (bar)", max_digits=5, decimal_places=2, null=True, blank=True
    )
    minimum_thickness_mm = models.DecimalField(
        "minimum thickness from plate or drawing (mm)",
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_reservoir_one_rating",
            ("equipment_id",),
            "The item already has ratings for part of that time.",
            "particulars_overlap",
        ),
    )

    objects: ClassVar = RatingsQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Ratings of reservoir {self.equipment_id}"


class HoseParticulars(Version, Lasting):
    """Particulars of a hose and its coupling."""

    equipment = models.ForeignKey(
        Equipment, models.PROTECT, related_name="hose_particulars"
    )
    length_mm = models.PositiveSmallIntegerField("length (mm)", null=True, blank=True)
    coupling = models.CharField("hose coupling", max_length=40, blank=True, default="")
    batch = models.CharField(max_length=30, blank=True, default="")

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_hose_one_rating",
            ("equipment_id",),
            "The item already has particulars for part of that time.",
            "particulars_overlap",
        ),
    )

    objects: ClassVar = RatingsQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Particulars of hose {self.equipment_id}"


class Fitting(Version, Lasting):
    """Where an item was over an interval: in a position of a vehicle, or in a store."""

    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="fittings")
    vehicle = models.ForeignKey(
        Vehicle, models.PROTECT, null=True, blank=True, related_name="fittings"
    )
    position = models.SlugField(max_length=30, blank=True, default="")
    store = models.ForeignKey(
        Depot, models.PROTECT, null=True, blank=True, related_name="+"
    )
    remark = models.CharField(max_length=200, blank=True, default="")

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_fitting_item_elsewhere",
            ("equipment_id",),
            "This item is recorded somewhere else for part of that time. Take it off "
            "there first, or give times of day.",
            "item_elsewhere",
            "equipment",
        ),
        NoOverlap(
            "register_fitting_position_taken",
            ("vehicle_id", "position"),
            "Something is already fitted at this position for part of that time. Take "
            "it off first, exchange it, or give times of day.",
            "position_taken",
            "position",
        ),
    )

    objects: ClassVar = FittingQuerySet.as_manager()

    class Meta:
        ordering = ("since_key",)
        constraints = (
            models.CheckConstraint(
                name="register_fitting_one_place",
                condition=(
                    Q(vehicle__isnull=False, store__isnull=True) & ~Q(position="")
                )
                | Q(vehicle__isnull=True, store__isnull=False, position=""),
                violation_error_message="Give a vehicle and position, or a store.",
            ),
        )
        indexes = (
            models.Index(
                fields=["vehicle", "position", "closed_by"], name="register_fit_place"
            ),
            models.Index(fields=["equipment", "closed_by"], name="register_fit_item"),
        )

    def __str__(self) -> str:
        return f"Item {self.equipment_id} at {self.position or 'store'}"

    def clean(self) -> None:
        """Refuse an end before the beginning."""
        if self.until_key is not None and self.until_key < self.since_key:
            raise refusing(
                f"It was fitted on {self.since}; it cannot come off before.",
                code="removed_before_fitted",
                field="until",
            )


class Usage(Version):
    """Miles run and days in service between two days, both included."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="usage")
    first = models.DateField("from")
    last = models.DateField("to")
    miles = models.DecimalField(
        max_digits=9, decimal_places=1, validators=(MinValueValidator(0),)
    )
    days = models.PositiveSmallIntegerField("days in service")
    meter_miles = models.DecimalField(
        "meter reading (miles)", max_digits=10, decimal_places=1, null=True, blank=True
    )

    objects: ClassVar = UsageQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "usage"
        ordering = ("vehicle", "first")
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="register_usage_of"),
        )

    def __str__(self) -> str:
        return f"{self.miles} miles, {self.first} to {self.last}"


class StoragePeriod(Version, Lasting):
    """A period out of use."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="storage")
    place = models.CharField(max_length=80, blank=True, default="")
    preserved = models.CharField(
        "how preserved", max_length=200, blank=True, default=""
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "register_storage_one_at_a_time",
            ("vehicle_id",),
            "The vehicle is already recorded as stored for part of that time.",
            "storage_overlap",
            "since",
        ),
    )

    objects: ClassVar = StorageQuerySet.as_manager()

    class Meta:
        ordering = ("since_key",)
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="register_storage_of"),
        )

    def __str__(self) -> str:
        return f"Stored from {self.since}"
