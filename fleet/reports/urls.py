"""Addresses of this slice."""

from django.urls import URLPattern, path

from fleet.reports import views

app_name = "reports"

urlpatterns: list[URLPattern] = [
    path("vehicles/<int:pk>/statement.pdf", views.statement, name="statement"),
    path("tests/<int:pk>/certificate.pdf", views.certificate, name="certificate"),
    path("procedures/<slug:code>/sheet.pdf", views.blank_sheet, name="blank-sheet"),
    path("fleet-report.pdf", views.fleet_report, name="fleet-report"),
]
