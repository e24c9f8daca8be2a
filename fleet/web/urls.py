"""Addresses of the screens that join the slices."""

from django.urls import path

from fleet.web import coverage_views, sum_views, thinning_views, views

app_name = "web"
urlpatterns = [
    path("", views.board, name="board"),
    path("vehicles/<int:pk>/", views.vehicle, name="vehicle"),
    path("vehicles/<int:pk>/wear/", thinning_views.wear, name="wear"),
    path("equipment/<int:pk>/surveys/", thinning_views.surveys, name="surveys"),
    path("due/", views.due_list, name="due-list"),
    path("rules/", views.rule_list, name="rule-list"),
    path("rules/<str:code>/", views.rule, name="rule"),
    path("practice/", views.practice, name="practice"),
    path("sums/", sum_views.sums, name="sums"),
    path("sums/<slug:name>/", sum_views.sum_page, name="sum"),
    path("instruments/<int:pk>/leaning/", views.in_question, name="in-question"),
    path("coverage/", coverage_views.coverage_page, name="coverage"),
    path("find/", views.search, name="search"),
]
