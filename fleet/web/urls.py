"""Addresses of the screens that join the slices."""

from django.urls import path

from fleet.web import (
    change_views,
    coverage_views,
    explain_views,
    notice_views,
    policy_views,
    sum_views,
    thinning_views,
    trace_views,
    views,
    visit_views,
)
from fleet.web import policy_concession_views as conceding
from fleet.web import policy_grant_views as granting

app_name = "web"
urlpatterns = [
    path("", views.board, name="board"),
    path("vehicles/<int:pk>/", views.vehicle, name="vehicle"),
    path("vehicles/<int:pk>/why/", explain_views.explanation, name="explain"),
    path("vehicles/<int:pk>/wear/", thinning_views.wear, name="wear"),
    path("equipment/<int:pk>/surveys/", thinning_views.surveys, name="surveys"),
    path("trace/", trace_views.trace, name="trace"),
    path("notices/", notice_views.notice_list, name="notice-list"),
    path("notices/add/", notice_views.notice_add, name="notice-add"),
    path("notices/<slug:code>/", notice_views.notice, name="notice"),
    path("notices/<slug:code>/close/", notice_views.notice_close, name="notice-close"),
    path(
        "notices/<slug:code>/items/<int:pk>/",
        notice_views.notice_sign,
        name="notice-sign",
    ),
    path("visits/", visit_views.visit_list, name="visit-list"),
    path("visits/<int:pk>/", visit_views.visit, name="visit"),
    path("visits/<int:pk>/evidence/", visit_views.visit_renew, name="visit-renew"),
    path("visits/<int:pk>/end/", visit_views.visit_end, name="visit-end"),
    path("vehicles/<int:pk>/accept/", visit_views.visit_accept, name="visit-accept"),
    path("changes/", change_views.changes, name="changes"),
    path("vehicles/<int:pk>/changes/", change_views.changes, name="vehicle-changes"),
    path("due/", views.due_list, name="due-list"),
    path("rules/", views.rule_list, name="rule-list"),
    path("rules/<str:code>/", views.rule, name="rule"),
    path("practice/", views.practice, name="practice"),
    path("sums/", sum_views.sums, name="sums"),
    path("sums/<slug:name>/", sum_views.sum_page, name="sum"),
    path("instruments/<int:pk>/leaning/", views.in_question, name="in-question"),
    path("coverage/", coverage_views.coverage_page, name="coverage"),
    path(
        "policy/drafts/<int:pk>/dry-run/",
        policy_views.policy_dry_run,
        name="policy-dry-run",
    ),
    path("concessions/", conceding.concession_list, name="concession-list"),
    path("concessions/ask/", conceding.concession_ask, name="concession-ask"),
    path("concessions/<int:pk>/", conceding.concession, name="concession"),
    path(
        "concessions/<int:pk>/renew/",
        conceding.concession_renew,
        name="concession-renew",
    ),
    path(
        "concessions/<int:pk>/recheck/",
        conceding.concession_recheck,
        name="concession-recheck",
    ),
    path(
        "concessions/asked/<int:pk>/agree/",
        granting.concession_agree,
        name="concession-agree",
    ),
    path(
        "concessions/granted/<int:pk>/correct/",
        granting.concession_correct,
        name="concession-correct",
    ),
    path(
        "concessions/asked/<int:pk>/grant/",
        granting.concession_grant,
        name="concession-grant",
    ),
    path(
        "concessions/asked/<int:pk>/refuse/",
        conceding.concession_refuse,
        name="concession-refuse",
    ),
    path(
        "concessions/asked/<int:pk>/retract/",
        conceding.concession_retract,
        name="concession-retract",
    ),
    path(
        "concessions/granted/<int:pk>/withdraw/",
        granting.concession_withdraw,
        name="concession-withdraw",
    ),
    path(
        "concessions/rechecks/<int:pk>/retract/",
        conceding.recheck_retract,
        name="recheck-retract",
    ),
    path("find/", views.search, name="search"),
]
