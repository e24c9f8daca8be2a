"""Addresses of this slice."""

from django.urls import path

from fleet.examination.views import drafts, procedures, recording, records

app_name = "examination"

urlpatterns = [
    path("tests/", records.test_list, name="test-list"),
    path("tests/add/", recording.test_add, name="test-add"),
    path("tests/<int:pk>/", records.test_page, name="test"),
    path("tests/<int:pk>/correct/", recording.test_correct, name="test-correct"),
    path("tests/<int:pk>/retract/", recording.test_retract, name="test-retract"),
    path("procedures/", procedures.procedure_list, name="procedures"),
    path("procedures/without-criterion/", procedures.criteria, name="criteria"),
    path("procedures/new/", drafts.procedure_new, name="procedure-new"),
    path("procedures/drafts/", drafts.draft_list, name="draft-list"),
    path("procedures/drafts/<int:pk>/", drafts.draft_page, name="draft"),
    path(
        "procedures/drafts/<int:pk>/approve/",
        drafts.draft_approve,
        name="draft-approve",
    ),
    path(
        "procedures/drafts/<int:pk>/discard/",
        drafts.draft_discard,
        name="draft-discard",
    ),
    path(
        "procedures/drafts/<int:pk>/lines/add/",
        drafts.draft_line,
        name="draft-line-add",
    ),
    path(
        "procedures/drafts/<int:pk>/lines/<int:number>/",
        drafts.draft_line,
        name="draft-line",
    ),
    path(
        "procedures/drafts/<int:pk>/lines/<int:number>/<slug:way>/",
        drafts.draft_arrange,
        name="draft-arrange",
    ),
    path("procedures/<slug:code>/", procedures.procedure_page, name="procedure"),
    path("procedures/<slug:code>/draft/", drafts.draft_add, name="draft-add"),
]
