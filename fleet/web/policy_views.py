"""The page that tries a draft of the policy on the whole fleet."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.people.access import needs
from fleet.records.clock import today
from fleet.register.models import Vehicle
from fleet.upkeep.models import PolicyDraft
from fleet.upkeep.vocabulary import PolicyKind
from fleet.web.policy_clearing import clearing_run
from fleet.web.policy_dry_run import AT_ONCE, SHOWN, day_of, dry_run


@needs("plan_work")
def policy_dry_run(request: HttpRequest, pk: int) -> HttpResponse:
    """Show whose brake status and due dates a draft would change, and from when."""
    draft = get_object_or_404(PolicyDraft.objects.select_related("drafted_by"), pk=pk)
    if not (draft.content or draft.withdraws):
        raise Http404("Nothing is written in this draft yet.")
    day = day_of(draft, today())
    many = Vehicle.objects.count()
    told = {
        "draft": draft,
        "day": day,
        "many": many,
        "run": dry_run(draft, day) if many <= AT_ONCE else None,
        "shown": SHOWN,
        "clearing": clearing_run(draft, day, today())
        if draft.kind == PolicyKind.CLEARING
        else None,
    }
    return render(request, "web/policy_dry_run.html", told)
