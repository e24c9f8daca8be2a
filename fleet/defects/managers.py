"""Reads of defects."""

from typing import Self

from fleet.records.models import VersionQuerySet


class DefectStepQuerySet(VersionQuerySet):
    """Reads of defect steps."""

    def for_history(self) -> Self:
        """Load what a defect's page shows."""
        return self.select_related("by", "opened_by__user").order_by("pk")
