"""Entries, and the abstract rows every fact is made of: identities, versions, moments."""

import datetime as dt
import uuid
from typing import TYPE_CHECKING, Any, ClassVar, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.engineering.calendar import SECONDS_A_DAY, Moment


class Channel(models.TextChoices):
    """The way a deed reached the register."""

    PAGE = "page", "Page"
    COMMAND = "command", "Command"
    IMPORT = "import", "Import"
    OFFLINE = "offline", "Offline"
    API = "api", "API"


class Entry(models.Model):
    """
    One deed: all rows written by it name it.

    `number` is taken last in the transaction under a lock, so numbers run in the order of
    commits: everything known at number K is there when K is.
    """

    number = models.BigIntegerField(unique=True, null=True, editable=False)
    uuid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    deed = models.CharField(max_length=60)
    made_at = models.DateTimeField()
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    channel = models.CharField(
        max_length=10, choices=Channel.choices, default=Channel.PAGE
    )
    device_time = models.DateTimeField(null=True)

    guard: ClassVar[str] = "entry"

    class Meta:
        ordering = ("-number",)
        verbose_name_plural = "entries"

    def __str__(self) -> str:
        return f"Entry {self.number}: {self.deed}"


class Mention(models.Model):
    """What an entry touched: the log of one vehicle or item is one indexed query."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="mentions")
    kind = models.CharField(max_length=40)
    key = models.BigIntegerField()

    guard: ClassVar[str] = "frozen"

    class Meta:
        ordering = ("-entry_id",)
        indexes = (
            models.Index(
                fields=["kind", "key", "entry"], name="records_mention_subject"
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.key} in {self.entry_id}"


class Seal(models.Model):
    """
    The digest of an entry and of what its deed wrote, chained to the one before.

    `rows` are the tables, keys and digests of the rows written, `closings` the tables and
    keys of those closed and by which entry. Whoever alters a row afterwards would have
    to alter every seal from there on.
    """

    entry = models.OneToOneField(Entry, models.PROTECT, related_name="seal")
    format = models.PositiveSmallIntegerField()
    digest = models.CharField(max_length=64)
    rows = models.JSONField(default=list)
    closings = models.JSONField(default=list)

    guard: ClassVar[str] = "frozen"

    def __str__(self) -> str:
        return f"Seal of entry {self.entry_id}"


class Frozen(models.Model):
    """A row that belongs to another fact and never changes."""

    guard: ClassVar[str] = "frozen"

    class Meta:
        abstract = True


class Identity(Frozen):
    """The row that stands for a thing and holds only what never changes about it."""

    created_by = models.ForeignKey(
        Entry, models.PROTECT, related_name="+", editable=False
    )

    class Meta:
        abstract = True


class Kind(models.TextChoices):
    """Why a version row was written."""

    OPENED = "opened", "Recorded"
    CONTINUED = "continued", "Continued"
    CORRECTED = "corrected", "Corrected"
    RETRACTED = "retracted", "Retracted"


class VersionQuerySet(models.QuerySet[Any]):
    """Reads of version rows."""

    def current(self) -> Self:
        """Keep what is held true now."""
        return self.filter(closed_by__isnull=True).exclude(change=Kind.RETRACTED)

    def known_at(self, number: int | None) -> Self:
        """Keep what was held true when entry `number` was the newest; None: now."""
        if number is None:
            return self.current()
        still_open = Q(closed_by__isnull=True) | Q(closed_by__number__gt=number)
        return self.filter(still_open, opened_by__number__lte=number).exclude(
            change=Kind.RETRACTED
        )

    def holding_on(self, day: dt.date) -> Self:
        """Keep intervals that hold at the close of a day (rows with since and until)."""
        close = (day.toordinal() + 1) * SECONDS_A_DAY
        still = Q(until_key__isnull=True) | Q(until_key__gte=close)
        return self.filter(still, since_key__lt=close)

    def holding_at(self, moment: Moment) -> Self:
        """Keep intervals that hold at a moment; an unknown one is before all others."""
        key = moment.key or 0
        still = Q(until_key__isnull=True) | Q(until_key__gt=key)
        return self.filter(still, since_key__lte=key)

    def overlapping(self, since: Moment, until: Moment | None) -> Self:
        """Keep intervals that share any time with the half-open one given."""
        begins = since.key or 0
        kept = self.filter(Q(until_key__isnull=True) | Q(until_key__gt=begins))
        kept = kept.exclude(until_key=F("since_key"))  # within one moment: no time
        if until is None:
            return kept
        return kept.filter(since_key__lt=until.key or 0)

    def open_ended(self) -> Self:
        """Keep intervals that have not ended."""
        return self.filter(until_key__isnull=True)


class Version(models.Model):
    """
    What was held true of an identity from one entry to another.

    Only `closed_by` is ever written afterwards, once; the database sees to that.
    """

    opened_by = models.ForeignKey(
        Entry, models.PROTECT, related_name="+", editable=False
    )
    # Nearly every row is open: an index on this alone only misleads SQLite's planner
    # away from the one on the subject.
    closed_by = models.ForeignKey(
        Entry,
        models.PROTECT,
        related_name="+",
        null=True,
        editable=False,
        db_index=False,
    )
    change = models.CharField(
        max_length=9, choices=Kind.choices, default=Kind.OPENED, editable=False
    )
    reason = models.CharField(max_length=300, blank=True, default="")
    replaces = models.ForeignKey(
        "self", models.PROTECT, related_name="+", null=True, editable=False
    )

    guard: ClassVar[str] = "version"

    if not TYPE_CHECKING:  # the type checker takes it for one no model may replace
        objects = VersionQuerySet.as_manager()

    class Meta:
        abstract = True

    @property
    def is_current(self) -> bool:
        """Say whether this version is held true now."""
        return self.closed_by_id is None and self.change != Kind.RETRACTED


class Happened(models.Model):
    """Columns of one moment, `on`: day bounds, time of day, order within the day."""

    on_earliest = models.DateField(null=True, blank=True)
    on_latest = models.DateField(null=True, blank=True)
    on_at = models.TimeField(null=True, blank=True)
    on_order = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        abstract = True

    @property
    def on(self) -> Moment:
        """Return when it happened."""
        return Moment(self.on_earliest, self.on_latest, self.on_at, self.on_order)

    @on.setter
    def on(self, moment: Moment) -> None:
        self.on_earliest, self.on_latest = moment.earliest, moment.latest
        self.on_at, self.on_order = moment.at, moment.order


class Lasting(models.Model):
    """Columns of a half-open interval, `since` to `until`; no `until`: not ended."""

    since_earliest = models.DateField(null=True, blank=True)
    since_latest = models.DateField(null=True, blank=True)
    since_at = models.TimeField(null=True, blank=True)
    since_order = models.PositiveSmallIntegerField(null=True, blank=True)
    since_key = models.BigIntegerField(default=0, editable=False)
    until_earliest = models.DateField(null=True, blank=True)
    until_latest = models.DateField(null=True, blank=True)
    until_at = models.TimeField(null=True, blank=True)
    until_order = models.PositiveSmallIntegerField(null=True, blank=True)
    until_key = models.BigIntegerField(null=True, blank=True, editable=False)

    class Meta:
        abstract = True

    @property
    def since(self) -> Moment:
        """Return when it began."""
        return Moment(
            self.since_earliest, self.since_latest, self.since_at, self.since_order
        )

    @since.setter
    def since(self, moment: Moment) -> None:
        self.since_earliest, self.since_latest = moment.earliest, moment.latest
        self.since_at, self.since_order = moment.at, moment.order
        self.since_key = moment.key or 0

    @property
    def until(self) -> Moment | None:
        """Return when it ended; None while it lasts."""
        if self.until_key is None:
            return None
        return Moment(
            self.until_earliest, self.until_latest, self.until_at, self.until_order
        )

    @until.setter
    def until(self, moment: Moment | None) -> None:
        end = moment or Moment.unknown()
        self.until_earliest, self.until_latest = end.earliest, end.latest
        self.until_at, self.until_order, self.until_key = end.at, end.order, end.key
