"""Addresses of this slice."""

from django.urls import path

from fleet.people import views

app_name = "people"

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("competences/", views.competence_list, name="competence-list"),
    path("competences/grant/", views.competence_grant, name="competence-grant"),
    path("competences/<int:pk>/", views.competence, name="competence"),
    path(
        "competences/versions/<int:pk>/correct/",
        views.competence_correct,
        name="competence-correct",
    ),
    path(
        "competences/versions/<int:pk>/withdraw/",
        views.competence_withdraw,
        name="competence-withdraw",
    ),
    path(
        "competences/versions/<int:pk>/retract/",
        views.competence_retract,
        name="competence-retract",
    ),
]
