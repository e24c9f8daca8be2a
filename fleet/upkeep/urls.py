"""Addresses of this slice."""

from django.urls import path

from fleet.upkeep import views

app_name = "upkeep"

urlpatterns = [
    path("policy/", views.policy, name="policy"),
    path("policy/new/<slug:kind>/", views.new, name="new"),
    path("policy/drafts/<int:pk>/", views.draft, name="draft"),
    path("policy/drafts/<int:pk>/approve/", views.draft_approve, name="draft-approve"),
    path("policy/drafts/<int:pk>/discard/", views.draft_discard, name="draft-discard"),
    path("policy/<slug:kind>/<slug:code>/", views.part, name="part"),
    path("policy/<slug:kind>/<slug:code>/draft/", views.draft_add, name="draft-add"),
]
