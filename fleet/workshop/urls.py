"""Addresses of the workshop."""

from django.urls import URLPattern, path, register_converter
from django.urls.converters import StringConverter

from fleet.workshop import feed_views, forecast_views, plan_views
from fleet.workshop.capacity_views import capacity_page
from fleet.workshop.diary_views import (
    cover,
    diary,
    diary_example,
    diary_import,
    diary_write,
)
from fleet.workshop.exchange_views import (
    consignment,
    consignment_correct,
    consignment_expect,
    consignment_retract,
    consignment_take_in,
    exchange,
    group,
    group_describe,
    group_retract,
    group_send,
    return_correct,
    return_retract,
)
from fleet.workshop.keeping_views import (
    kept,
    kept_add,
    kept_correct,
    kept_end,
    kept_retract,
    kept_revise,
)
from fleet.workshop.views import published, runs, visits, what_if


class SheetKind(StringConverter):
    """The kinds of sheet an example is handed out of."""

    regex = "csv|xlsx"


register_converter(SheetKind, "sheet")

app_name = "workshop"

_FORECAST: list[URLPattern] = [
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

# The diary, the shop's capacity, exchange units. A group's code may hold a slash: it
# stands last.
_KEPT: list[URLPattern] = [
    path("workshop/diary/", diary, name="diary"),
    path("workshop/diary/cover/", cover, name="cover"),
    path("workshop/diary/import/", diary_import, name="diary-import"),
    path("workshop/diary/import/write/", diary_write, name="diary-write"),
    path("workshop/diary/example.<sheet:kind>", diary_example, name="diary-example"),
    path("workshop/capacity/", capacity_page, name="capacity"),
    path("workshop/kept/<slug:what>/add/", kept_add, name="kept-add"),
    path("workshop/kept/<slug:what>/<int:pk>/", kept, name="kept"),
    path("workshop/kept/<slug:what>/<int:pk>/change/", kept_revise, name="kept-revise"),
    path(
        "workshop/kept/<slug:what>/<int:pk>/correct/",
        kept_correct,
        name="kept-correct",
    ),
    path("workshop/kept/<slug:what>/<int:pk>/end/", kept_end, name="kept-end"),
    path(
        "workshop/kept/<slug:what>/<int:pk>/retract/",
        kept_retract,
        name="kept-retract",
    ),
    path("workshop/exchange/", exchange, name="exchange"),
    path("workshop/exchange/of/<path:code>", group, name="exchange-group"),
    path(
        "workshop/exchange/describe/<path:code>",
        group_describe,
        name="exchange-describe",
    ),
    path(
        "workshop/exchange/undescribe/<path:code>",
        group_retract,
        name="exchange-undescribe",
    ),
    path("workshop/exchange/send/<path:code>", group_send, name="exchange-send"),
    path("workshop/away/<int:pk>/", consignment, name="consignment"),
    path(
        "workshop/away/<int:pk>/back/",
        consignment_take_in,
        name="consignment-take-in",
    ),
    path(
        "workshop/away/<int:pk>/expect/",
        consignment_expect,
        name="consignment-expect",
    ),
    path(
        "workshop/away/<int:pk>/correct/",
        consignment_correct,
        name="consignment-correct",
    ),
    path(
        "workshop/away/<int:pk>/retract/",
        consignment_retract,
        name="consignment-retract",
    ),
    path("workshop/back/<int:pk>/correct/", return_correct, name="return-correct"),
    path("workshop/back/<int:pk>/retract/", return_retract, name="return-retract"),
]

_PROGRAMME: list[URLPattern] = [
    path("workshop/programmes/", runs.programmes, name="programmes"),
    path("workshop/programmes/search/", runs.run_ask, name="run-ask"),
    path("workshop/programmes/<int:number>/", published.programme, name="programme"),
    path(
        "workshop/programmes/<int:number>/visits/<int:pk>/",
        published.planned_visit,
        name="planned-visit",
    ),
    path("workshop/searches/<int:pk>/", runs.run, name="run"),
    path("workshop/searches/<int:pk>/stop/", runs.run_stop, name="run-stop"),
    path("workshop/searches/<int:pk>/what-if/", what_if.run_what_if, name="what-if"),
    path(
        "workshop/searches/<int:pk>/beside/<int:other>/",
        what_if.run_beside,
        name="run-beside",
    ),
    path("workshop/searches/<int:pk>/publish/", published.run_publish, name="publish"),
    path(
        "workshop/searches/<int:pk>/visits/<int:vehicle>/<int:week>/",
        visits.run_visit,
        name="run-visit",
    ),
    path(
        "workshop/searches/<int:pk>/visits/<int:vehicle>/<int:week>/pin/",
        visits.run_pin,
        name="run-pin",
    ),
    path("workshop/pins/", visits.pin_list, name="pin-list"),
    path("workshop/pins/<int:pk>/take-out/", visits.pin_take_out, name="pin-take-out"),
]

urlpatterns: list[URLPattern] = [*_FORECAST, *_KEPT, *_PROGRAMME]
