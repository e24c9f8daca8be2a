"""Addresses of this slice."""

from django.urls import URLPattern

app_name = "defects"

urlpatterns: list[URLPattern] = []
