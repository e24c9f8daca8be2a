"""Addresses of this slice."""

from django.urls import URLPattern

app_name = "people"

urlpatterns: list[URLPattern] = []
