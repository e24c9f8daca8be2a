"""Tables of isolations: a brake, or part of one, taken out of use."""

from typing import ClassVar

from django.db import models
from django.urls import reverse

from fleet.defects.managers import IsolationQuerySet, IsolationVersionQuerySet
from fleet.defects.models.tickets import Defect
from fleet.defects.vocabulary import Brake, Extent, IsolationLineKind
from fleet.people.models import Person
from fleet.records.guards import NoOverlap
from fleet.records.models import Frozen, Identity, Lasting, Version
from fleet.records.refusing import refusing
from fleet.register.models import Vehicle
from fleet.register.vocabulary import CockPosition


class Isolation(Identity):
    """
    A brake, or part of one, taken out of use.

    An air or a vacuum brake by its cocks, blanks or plugs; the handbrake by its linkage.
    """

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="isolations")
    system = models.CharField(max_length=6, choices=Brake.choices())

    objects = IsolationQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Isolation {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the isolation record's page."""
        return reverse("defects:isolation", args=[self.pk])

    @property
    def brake(self) -> Brake:
        """Return which brake is out of use."""
        return Brake(self.system)


class IsolationVersion(Version, Lasting):
    """The isolation record over an interval; complete only with every line answered."""

    isolation = models.ForeignKey(Isolation, models.PROTECT, related_name="versions")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    extent = models.CharField(
        max_length=5, choices=Extent.choices(), default=Extent.WHOLE
    )
    why = models.CharField("why", max_length=200)
    defect = models.ForeignKey(
        Defect, models.PROTECT, null=True, blank=True, related_name="isolations"
    )
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    label_number = models.CharField(max_length=20, blank=True, default="")
    label_where = models.CharField(
        "where the label is fixed", max_length=120, blank=True, default=""
    )
    secured = models.CharField(
        "vehicle secured by", max_length=120, blank=True, default=""
    )  # by what else, and where, as its handbrake was taken out of use
    condition = models.CharField(max_length=200, blank=True, default="")
    braked_weight_t = models.DecimalField(
        "reduced braked weight (t)",
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
    )
    complete = models.BooleanField(default=False, editable=False)  # from its lines
    restored_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )

    overlaps: ClassVar[tuple[NoOverlap, ...]] = (
        NoOverlap(
            "defects_isolation_one_state",
            ("isolation_id",),
            "The isolation record already has an entry for part of that time.",
            "isolation_overlap",
            "since",
        ),
    )

    objects: ClassVar = IsolationVersionQuerySet.as_manager()

    class Meta:
        ordering = ("since_key", "pk")
        indexes = (
            models.Index(fields=["vehicle", "closed_by"], name="defects_isolated"),
        )

    def __str__(self) -> str:
        return f"Isolated from {self.since}"

    def clean(self) -> None:
        """Hold a part isolation to words: the rest of the brake is relied on."""
        if self.extent == Extent.PART and not self.condition.strip():
            raise refusing(
                "Part of the brake stays in use: write the condition as train crew "
                "should read it.",
                code="no_condition",
                field="condition",
            )


class IsolationLine(Frozen):
    """One line of an isolation record: a cock as found and left, or a thing seen to."""

    version = models.ForeignKey(IsolationVersion, models.PROTECT, related_name="lines")
    kind = models.CharField(max_length=12, choices=IsolationLineKind.choices())
    position = models.SlugField(max_length=30, blank=True, default="")
    label = models.CharField(max_length=100)
    normal = models.CharField(
        "normal position",
        max_length=6,
        choices=CockPosition.choices(),
        blank=True,
        default="",
    )
    isolates = models.BooleanField(
        "must be left closed to take the whole brake out", default=False
    )
    found = models.CharField(
        max_length=6, choices=CockPosition.choices(), blank=True, default=""
    )
    left = models.CharField(
        max_length=6, choices=CockPosition.choices(), blank=True, default=""
    )
    done = models.BooleanField(null=True, blank=True)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return self.label

    @property
    def asks_position(self) -> bool:
        """Say whether the line is about the handle of a cock."""
        kind = IsolationLineKind(self.kind)
        put_back = kind is IsolationLineKind.PUT_BACK and bool(self.position)
        return kind is IsolationLineKind.COCK or put_back

    @property
    def answered(self) -> bool:
        """Say whether the line is answered, whatever the answer."""
        if self.asks_position:
            return bool(self.found and self.left)
        return self.done is not None

    @property
    def found_wrong(self) -> bool:
        """Say whether a cock stood where it should not before anyone touched it."""
        is_cock = self.kind == IsolationLineKind.COCK
        return (
            is_cock and bool(self.found and self.normal) and self.found != self.normal
        )
