"""Addresses of this slice."""

from django.urls import path

from fleet.people import views

app_name = "people"

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
]
