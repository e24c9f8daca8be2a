"""Every address of the register; each slice keeps its own below these."""

from django.contrib import admin
from django.urls import include, path

from fleet.config.health import healthz

urlpatterns = [
    path("healthz", healthz, name="healthz"),
    path("admin/", admin.site.urls),
    path("", include("fleet.web.urls")),
    path("", include("fleet.register.urls")),
    path("", include("fleet.examination.urls")),
    path("", include("fleet.defects.urls")),
    path("", include("fleet.upkeep.urls")),
    path("", include("fleet.workshop.urls")),
    path("", include("fleet.reports.urls")),
    path("", include("fleet.people.urls")),
]

handler400 = "fleet.ui.errors.bad_request"
handler403 = "fleet.ui.errors.permission_denied"
handler404 = "fleet.ui.errors.page_not_found"
handler500 = "fleet.ui.errors.server_error"
