"""The page that tries a draft of the policy on the whole fleet."""

import datetime as dt

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.people.access import needs
from fleet.records.clock import today
from fleet.upkeep.models import PolicyDraft
from fleet.upkeep.vocabulary import PolicyKind
from fleet.web.policy_dry_run import SHOWN, dry_run


@needs("plan_work")
def policy_dry_run(request: HttpRequest, pk: int) -> HttpResponse:
    """Show whose brake status and due dates a draft would change, and from when."""
    draft = get_object_or_404(PolicyDraft.objects.select_related("drafted_by"), pk=pk)
    if not (draft.content or draft.withdraws):
        raise Http404("Nothing is written in this draft yet.")
    tomorrow = today() + dt.timedelta(days=1)
    day = max(draft.effective_from or tomorrow, tomorrow)
    told = {
        "draft": draft,
        "label": PolicyKind(draft.kind).label,
        "day": day,
        "run": dry_run(draft, day),
        "shown": SHOWN,
    }
    return render(request, "web/policy_dry_run.html", told)
