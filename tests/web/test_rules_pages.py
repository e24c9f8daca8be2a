"""The pages of rules and practice: every rule explained, what the operator set shown."""

import datetime as dt

import pytest
from django.urls import reverse

from fleet.fitness.rules import BOOK
from fleet.register.vocabulary import EquipmentKind
from fleet.upkeep.models import Requirement
from fleet.upkeep.services import revise_requirement
from fleet.web.rule_pages import SUBJECTS
from tests.upkeep.factories import (
    make_age_limit,
    make_conditions,
    make_matrix_line,
    make_requirement,
)
from tests.web.reading import links, main, plain, rows, words
from tests.web.scenes import TODAY, make_practice, standing_at_today

pytestmark = pytest.mark.django_db

PLACEHOLDERS = {"", "-", "\N{EN DASH}"}


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def read(client, train_crew):
    """`read(name, *args)`: the words of a page; everyone signed in may look."""
    client.force_login(train_crew)

    def page(name, *args):
        answer = client.get(reverse(f"web:{name}", args=args))
        assert answer.status_code == 200
        return answer

    return page


def same(text):
    """Text as it stands on one line."""
    return plain(text.replace("<", "&lt;"))


# Rules ------------------------------------------------------------------------------------


def test_every_rule_of_the_book_is_listed_with_why_source_and_remedy(read):
    found = {row["Code"]: row for row in rows(main(read("rule-list")))}

    assert list(found) == [rule.code for rule in BOOK]
    for rule in BOOK:
        row = found[rule.code]
        assert row["Rule"] == same(f"{rule.title} {rule.source}")
        assert row["Why"] == same(rule.why)
        assert row["What clears it"] == same(rule.clears)
        assert not PLACEHOLDERS & set(row.values())


def test_every_subject_of_the_book_has_a_heading(read):
    text = words(read("rule-list"))

    for letter in {rule.code[0] for rule in BOOK}:
        assert SUBJECTS[letter] in text


@pytest.mark.parametrize("code", [rule.code for rule in BOOK])
def test_a_rule_has_a_page_with_an_example_it_objects_to(read, code):
    rule = BOOK[code]

    text = words(read("rule", code))

    for said in (rule.title, rule.why, rule.clears, rule.source):
        assert same(said) in text
    example = text.split("An example it objects to")[1]
    assert len(example.strip(" .")) > 5


@pytest.mark.parametrize("code", ["Z99", "r01", "../etc"])
def test_a_rule_there_is_not_answers_404(client, fitter, code):
    client.force_login(fitter)

    assert client.get(f"/rules/{code}/").status_code == 404


def test_the_rules_lead_to_each_rule_and_to_the_practice(read):
    leads = {href for _, href in links(main(read("rule-list")))}

    assert {reverse("web:rule", args=[rule.code]) for rule in BOOK} <= leads
    assert reverse("web:practice") in leads


# Practice ---------------------------------------------------------------------------------


def test_the_practice_shows_each_requirement_in_force_with_its_limits_and_source(read):
    make_practice()
    make_requirement(
        code="gear",
        title="Rigging",
        months=18,
        miles=5_000,
        tolerance_days=7,
        source="Instruction 4",
    )
    make_age_limit(code="hoses")

    found = {
        row["Code"].split()[0]: row
        for row in rows(main(read("practice")))
        if "Requirement" in row
    }

    assert sorted(found) == ["annual", "gear", "hoses"]
    gear = found["gear"]
    assert gear["Requirement"] == "Rigging Instruction 4"
    assert gear["Limits"] == (
        "18 months, 5000 miles, whichever first; 7 days' tolerance from last done"
    )
    assert gear["Met by"] == "Single-vehicle air brake test"
    assert gear["If overrun"] == "Not counted as braked Air brake"
    assert found["hoses"]["Applies to"] == EquipmentKind.BP_HOSE.label
    assert found["hoses"]["Met by"] == "renewal only"
    assert found["annual"]["Limits"] == "12 months from last done"


def test_the_practice_shows_the_matrix_line_by_line(read):
    make_practice()
    make_matrix_line(code="after-dv", source="Instruction 9")

    (line,) = [row for row in rows(main(read("practice"))) if "After" in row]

    assert line["Code"] == "after-dv revision 1"
    assert line["After"] == "Equipment fitted: distributor Instruction 9"
    assert line["Any one of"] == "Single-vehicle air brake test"
    assert line["Until then"].startswith("Not counted as braked")


def test_the_practice_shows_the_general_conditions(read):
    make_conditions(usage_silent_days=45, source="Instruction 1")

    text = words(read("practice"))

    assert "45 days" in text
    assert "air brake vented and released" in text
    assert "vacuum released by the cords" in text
    assert "Visiting: on its owner's regime." in text
    assert "Instruction 1, revision 1" in text


def test_a_revision_is_shown_from_the_day_it_takes_effect(read, client, train_crew):
    make_practice()
    revise_requirement(
        by=None,
        requirement=Requirement.objects.get(code="annual"),
        effective_from=TODAY + dt.timedelta(days=1),
        reason="Wear",
        months=9,
    )

    def limits():
        found = [row for row in rows(main(read("practice"))) if "Requirement" in row]
        return [(row["Code"], row["Limits"]) for row in found]

    assert limits() == [("annual revision 1", "12 months from last done")]
    with standing_at_today() as clock:
        clock.shift(dt.timedelta(days=1))
        client.force_login(train_crew)
        assert limits() == [("annual revision 2", "9 months from last done")]


def test_without_practice_the_page_says_what_that_means(read):
    text = words(read("practice"))

    assert "No requirement is in force. Without requirements nothing falls due" in text
    assert "None are in force." in text


# Cost -------------------------------------------------------------------------------------


@pytest.mark.parametrize("requirements", [1, 6])
def test_the_practice_asks_as_often_for_few_requirements_as_for_many(
    read, requirements, django_assert_num_queries
):
    make_practice()
    for n in range(requirements):
        make_requirement(code=f"more-{n}")
        make_matrix_line(code=f"line-{n}")
    read("practice")

    # Session, account, did the practice change, concessions.
    with django_assert_num_queries(4):
        answer = read("practice")
    assert len(rows(main(answer))) == 2 * requirements + 1


@pytest.mark.parametrize("name", ["rule-list", "rule"])
def test_the_rules_are_read_without_asking_for_any(
    read, name, django_assert_num_queries
):
    arguments = ["R01"] if name == "rule" else []

    with django_assert_num_queries(2):  # session, account
        read(name, *arguments)
