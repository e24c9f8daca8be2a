"""Addresses of this slice."""

from django.urls import URLPattern, path

from fleet.workshop import feed_views, forecast_views, plan_views

app_name = "workshop"

FORECAST: list[URLPattern] = [
    path("workshop/", forecast_views.forecast_page, name="forecast"),
    path("workshop/strips/", forecast_views.forecast_strips, name="forecast-strips"),
    path(
        "workshop/forecast.<str:kind>",
        forecast_views.forecast_sheet,
        name="forecast-sheet",
    ),
    path("workshop/plans/", plan_views.plan_list, name="plan-list"),
    path("workshop/plans/<slug:code>/", plan_views.plan, name="plan"),
    path("workshop/plans/<slug:code>/edit/", plan_views.plan_edit, name="plan-edit"),
    path(
        "workshop/plans/<slug:code>/correct/",
        plan_views.plan_correct,
        name="plan-correct",
    ),
    path("workshop/calendar/", feed_views.calendar, name="calendar"),
    path("workshop/calendar/make/", feed_views.calendar_make, name="calendar-make"),
    path(
        "workshop/calendar/revoke/", feed_views.calendar_revoke, name="calendar-revoke"
    ),
    path(
        "workshop/calendar/<str:token>.ics",
        feed_views.calendar_feed,
        name="calendar-feed",
    ),
]

urlpatterns: list[URLPattern] = [*FORECAST]
