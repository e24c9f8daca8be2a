"""Reads of instruments."""

from typing import Self

from django.db.models import OuterRef, Subquery

from fleet.records.models import VersionQuerySet


class InstrumentVersionQuerySet(VersionQuerySet):
    """Reads of instruments, by what is held of them now."""

    def for_list(self) -> Self:
        """Keep what holds now, with the newest calibration of each."""
        from fleet.examination.models import Calibration

        newest = (
            Calibration.objects.current()
            .filter(instrument=OuterRef("instrument"))
            .order_by("-on_latest", "-pk")
        )
        return (
            self.current()
            .open_ended()
            .annotate(
                compared_on=Subquery(newest.values("on_latest")[:1]),
                left_good=Subquery(newest.values("as_left_good")[:1]),
                good_until=Subquery(newest.values("good_until")[:1]),
            )
            .order_by("number")
        )
