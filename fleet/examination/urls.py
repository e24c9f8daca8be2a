"""Addresses of this slice."""

from django.urls import path

from fleet.examination.views import (
    drafts,
    instruments,
    procedures,
    recording,
    records,
    signing,
)

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
    path("tests/<int:pk>/counter-sign/", signing.counter_signing, name="counter-sign"),
    path(
        "tests/<int:pk>/counter-sign/take-back/",
        signing.signature_retract,
        name="signature-retract",
    ),
    path("instruments/", instruments.instrument_list, name="instrument-list"),
    path("instruments/add/", instruments.instrument_add, name="instrument-add"),
    path("instruments/<int:pk>/", instruments.instrument, name="instrument"),
    path(
        "instruments/<int:pk>/alter/",
        instruments.instrument_alter,
        name="instrument-alter",
    ),
    path(
        "instruments/<int:pk>/calibrate/",
        instruments.instrument_calibrate,
        name="instrument-calibrate",
    ),
    path(
        "instruments/<int:pk>/calibrations/<int:calibration>/correct/",
        instruments.calibration_correct,
        name="calibration-correct",
    ),
    path(
        "instruments/<int:pk>/calibrations/<int:calibration>/retract/",
        instruments.calibration_retract,
        name="calibration-retract",
    ),
]
