"""Addresses of this slice."""

from django.urls import URLPattern, path

from fleet.reports.views import accident, issuing, papers, runs, workshop

app_name = "reports"

urlpatterns: list[URLPattern] = [
    path("vehicles/<int:pk>/statement.pdf", papers.statement, name="statement"),
    path("tests/<int:pk>/certificate.pdf", papers.certificate, name="certificate"),
    path("work/<int:pk>/release.pdf", papers.release, name="release"),
    path("procedures/<slug:code>/sheet.pdf", papers.blank_sheet, name="blank-sheet"),
    path("statements/", issuing.statement_list, name="statement-list"),
    path("statements/runs/", runs.run_list, name="run-list"),
    path("statements/runs/add/", runs.run_add, name="run-add"),
    path("statements/runs/<int:pk>/", runs.run, name="run"),
    path("statements/runs/<int:pk>/cancel/", runs.run_cancel, name="run-cancel"),
    path("statements/runs/<int:pk>/papers.pdf", runs.run_papers, name="run-papers"),
    path("statements/<slug:number>/", issuing.issued, name="issued"),
    path("statements/<slug:number>/paper.pdf", issuing.issued_paper, name="paper"),
    path("statements/<slug:number>/withdraw/", issuing.withdraw, name="withdraw"),
    path("vehicles/<int:pk>/issue/", issuing.issue, name="issue"),
    path("snapshots/", accident.snapshot_list, name="snapshot-list"),
    path("snapshots/add/", accident.snapshot_add, name="snapshot-add"),
    path("snapshots/<slug:number>/", accident.snapshot, name="snapshot"),
    path(
        "snapshots/<slug:number>/bundle/",
        accident.snapshot_bundle,
        name="snapshot-bundle",
    ),
    path("snapshots/<slug:number>/lift/", accident.snapshot_lift, name="snapshot-lift"),
    path("s/<str:token>/", issuing.vouch, name="vouch"),
    path("workshop/programmes/<int:number>/wall.pdf", workshop.wall, name="wall"),
    path(
        "workshop/programmes/<int:number>/visits/<int:pk>/sheet.pdf",
        workshop.visit,
        name="visit-sheet",
    ),
    path("fleet-report.pdf", papers.fleet_report, name="fleet-report"),
]
