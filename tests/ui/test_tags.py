"""The tags, lists and pages that every slice builds on."""

import datetime as dt

import django_tables2 as tables
import pytest
from django.contrib.auth.models import AnonymousUser
from django.template import Context, Template, TemplateSyntaxError
from django.template.loader import render_to_string
from django.test import RequestFactory

from fleet.engineering.calendar import Moment
from fleet.register.vocabulary import Level
from fleet.ui import nav
from fleet.ui.cautions import CAUTIONS
from fleet.ui.pipe_diagram import Arrangement, Part, pipe_diagrams
from fleet.ui.strip import StripRow, StripSpan
from fleet.ui.tables import NumberColumn, RegisterTable, paged
from fleet.ui.templatetags.register_ui import WORDS


def rendered(source, **context):
    return Template("{% load register_ui %}" + source).render(Context(context))


@pytest.mark.parametrize("level", Level)
def test_a_level_is_shown_as_its_word_and_a_shape(level):
    html = rendered("{% level_mark level %}", level=level)

    assert level.label in html
    assert f"level-{level.code}" in html
    assert "<svg" in html


def test_a_levels_words_may_name_the_train_it_holds_for():
    html = rendered("{% level_mark 'stopped' words %}", words="Not to run <here>")

    assert "Not to run &lt;here&gt;" in html
    assert WORDS["stopped"] + "<" not in html


def test_no_level_means_not_fitted_and_stale_says_so():
    assert "Not fitted" in rendered("{% level_mark level %}", level=None)
    assert "Not yet reassessed" in rendered("{% level_mark 'stale' %}")


def test_a_stopped_level_is_not_taken_for_none():
    assert "Not to run" in rendered("{% level_mark level %}", level=Level.STOPPED)


def test_a_level_that_does_not_exist_is_a_wrong_call():
    with pytest.raises(TemplateSyntaxError):
        rendered("{% level_mark 'doubtful' %}")


def test_cautions_stand_together_in_one_frame():
    html = rendered("{% caution 'movement' 'asbestos' %}")

    assert html.count("<aside") == 1
    shown = [c.key for c in CAUTIONS if c.text in html]
    assert shown == ["movement", "asbestos"]


@pytest.mark.parametrize(
    ("moment", "expected"),
    [
        (Moment.parse("2019-05-03"), '<time datetime="2019-05-03">3 May 2019</time>'),
        (dt.date(2019, 5, 3), '<time datetime="2019-05-03">3 May 2019</time>'),
        (
            Moment.on(dt.date(2019, 5, 3), dt.time(14, 30)),
            '<time datetime="2019-05-03T14:30">3 May 2019, 14:30</time>',
        ),
    ],
)
def test_a_known_day_is_shown_with_a_date_a_machine_can_read(moment, expected):
    assert rendered("{% moment m %}", m=moment) == expected


def test_an_imprecise_date_says_that_the_worse_day_counts():
    html = rendered("{% moment m %}", m=Moment.parse("2019-05"))

    assert "1 May 2019 to 31 May 2019; the worse one counts" in html
    assert "date unknown" in rendered("{% moment m %}", m=Moment.unknown())


def test_no_date_shows_what_the_page_wants_for_it():
    assert "not yet" in rendered("{% moment m 'not yet' %}", m=None)


def test_a_pages_strip_is_drawn_for_a_wide_screen_and_for_a_phone():
    day = dt.date(2026, 11, 25)
    rows = [StripRow("Air", (StripSpan(day, None, "braked", "Fit"),))]
    context = {"rows": rows, "first": day, "last": dt.date(2027, 11, 25), "today": day}

    page = rendered("{% strip rows first last today 'T 107' 'page' %}", **context)
    board = rendered("{% strip rows first last today 'T 107' %}", **context)

    assert page.count("<svg") == 2
    assert board.count("<svg") == 1
    assert "Brake status of T 107" in board
    assert "style=" not in page


def test_a_diagram_stands_in_a_frame_with_a_key_to_its_signs():
    part = Part("D", "distributor", "Distributor", href="/d", number=3)
    (diagram,) = pipe_diagrams([part], Arrangement(air="two_pipe"))

    html = rendered("{% diagram d 'T 107' %}", d=diagram)

    assert 'aria-label="Pipe diagram, air, T 107"' in html
    assert 'href="/d"' in html
    assert "Handle along the pipe: open" in html
    assert "style=" not in html


class Numbers(RegisterTable):
    """A list of one column."""

    number = NumberColumn(verbose_name="Vehicle")
    depot = tables.Column(orderable=False)


def listed(query, count):
    request = RequestFactory().get("/", query)
    rows = [{"number": f"T {n:03}", "depot": "<b>"} for n in range(count)]
    return paged(Numbers(rows), request).as_html(request)


def test_a_list_holds_fifty_rows_a_page_and_counts_them():
    html = listed({"page": 2}, 101)

    assert html.count('data-label="Vehicle"') == 50
    assert "51–100 of 101" in html  # noqa: RUF001
    assert 'aria-current="page"' in html


def test_a_list_sorts_by_its_headings_and_says_which_way():
    html = listed({"sort": "-number"}, 3)

    assert html.index("T 002") < html.index("T 000")
    assert 'aria-sort="descending"' in html
    assert html.count("aria-sort") == 1


def test_a_list_labels_its_cells_for_a_phone_and_escapes_them():
    html = listed({}, 1)

    assert 'data-label="Depot"' in html
    assert "&lt;b&gt;" in html


def test_an_empty_list_says_so():
    assert "Nothing recorded" in listed({}, 0)


def test_the_menu_leaves_out_what_has_no_page_and_marks_where_one_is(settings):
    settings.ROOT_URLCONF = "tests.ui.addresses"

    entries = nav.entries("/vehicles/T-107/")

    assert [e.words for e in entries] == ["Board", "Vehicles"]
    assert [e.current for e in entries] == ["", "true"]
    assert [e.current for e in nav.entries("/")] == ["page", ""]


def test_a_page_for_nobody_has_no_menu_and_no_sign_out():
    request = RequestFactory().get("/")
    request.user = AnonymousUser()

    html = render_to_string("ui/base.html", {}, request)

    assert "<nav" not in html
    assert "Sign out" not in html
    assert "stop and report" in html


def test_no_page_carries_inline_code_or_style():
    request = RequestFactory().get("/")
    request.user = AnonymousUser()

    for page in ("base", "400", "403", "403_csrf", "404", "500", "confirm", "login"):
        html = render_to_string(f"ui/{page}.html", {}, request)
        assert "style=" not in html
        assert "<style" not in html
        assert " onclick" not in html
        assert html.count("<h1") <= 1
