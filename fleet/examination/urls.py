"""Addresses of this slice."""

from django.urls import URLPattern

app_name = "examination"

urlpatterns: list[URLPattern] = []
