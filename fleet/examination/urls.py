"""Addresses of this slice."""

from django.urls import path

from fleet.examination.views import procedures, recording, records

app_name = "examination"

urlpatterns = [
    path("tests/", records.test_list, name="test-list"),
    path("tests/add/", recording.test_add, name="test-add"),
    path("tests/<int:pk>/", records.test_page, name="test"),
    path("tests/<int:pk>/correct/", recording.test_correct, name="test-correct"),
    path("tests/<int:pk>/retract/", recording.test_retract, name="test-retract"),
    path("procedures/", procedures.procedure_list, name="procedures"),
    path("procedures/<slug:code>/", procedures.procedure_page, name="procedure"),
]
