"""The papers as drawn: text, pages, typefaces, shapes."""

import re
from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet.fitness.examples import PRACTICE, SOUND_AIR
from fleet.fitness.findings import Verdict
from fleet.register.vocabulary import Level
from fleet.reports import typesetting
from fleet.reports.document import MARGIN
from fleet.reports.fleet_paper import draw_fleet_report
from fleet.reports.fleet_report import FleetVehicle, fleet_sheet
from fleet.reports.statement import Plate, statement_sheet
from fleet.reports.statement_paper import draw_statement
from fleet.ui.cautions import caution
from fleet.ui.level_shapes import LEVELS, Box, level_shape
from tests.reports.samples import (
    ODD_NAME,
    ON,
    PRINTED,
    bare_file,
    crowded_verdict,
    dual_file,
    dual_verdict,
    fit_verdict,
)


def statement(file=SOUND_AIR, verdict=None, **more):
    return statement_sheet(
        file, verdict or fit_verdict(), PRACTICE, on=ON, printed=PRINTED, **more
    )


def fleet_kind(number):
    """The systems and spans of the vehicles of a made-up fleet, in turn."""
    verdict = (fit_verdict(), dual_verdict(), crowded_verdict(1))[number % 3]
    return tuple({span.system for span in verdict.spans}), verdict.spans


def fleet(count, **more):
    vehicles = [
        FleetVehicle(
            f"T {n}", "Open saloon", "Wenlow", "", *fleet_kind(n), stale=n % 7 == 6
        )
        for n in range(count)
    ]
    return fleet_sheet(vehicles, [], on=ON, printed=PRINTED, **more)


PAPERS = [
    pytest.param(lambda: draw_statement(statement()), id="fit"),
    pytest.param(
        lambda: draw_statement(statement(dual_file(), dual_verdict())), id="dual"
    ),
    pytest.param(
        lambda: draw_statement(statement(verdict=crowded_verdict())), id="crowded"
    ),
    pytest.param(
        lambda: draw_statement(statement(bare_file(), Verdict((), ()))), id="bare"
    ),
    pytest.param(lambda: draw_fleet_report(fleet(24)), id="fleet"),
    pytest.param(lambda: draw_fleet_report(fleet(0)), id="empty fleet"),
]


def pages(pdf):
    return PdfReader(BytesIO(pdf)).pages


def words(text):
    """The text with any white space as one space, as a reader takes it."""
    return re.sub(r"\s+", " ", text)


def text_of(pdf):
    return words(" ".join(page.extract_text() for page in pages(pdf)))


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_carries_its_number_the_time_the_records_and_the_caution(paper):
    found = pages(paper())

    for number, page in enumerate(found, start=1):
        text = words(page.extract_text())
        assert f"Page {number} of {len(found)}" in text
        assert PRINTED.records in text
        assert f"Generated {PRINTED.time}" in text
        assert "Brake status at the close of 25 Nov 2026" in text
        assert "Uncontrolled when printed" in text
        assert "It is not permission to move." in text
        assert "if it disagrees with this sheet, stop and report." in text


@pytest.mark.parametrize("paper", PAPERS)
def test_the_cautions_about_limits_and_statutory_examination_stand_on_it(paper):
    text = text_of(paper())

    for key in ("local_instruction", "statutory"):
        assert caution(key).title in text
        assert caution(key).text in text


@pytest.mark.parametrize("paper", PAPERS)
def test_every_typeface_is_embedded(paper):
    fonts = {}
    for page in pages(paper()):
        for font in page["/Resources"]["/Font"].values():
            fonts[font["/BaseFont"]] = font.get("/FontDescriptor", {})

    assert fonts
    for name, descriptor in fonts.items():
        assert re.fullmatch(r"/[A-Z]{6}\+DejaVuSans(-Bold)?", name)
        assert "/FontFile2" in descriptor, name


@pytest.mark.parametrize("paper", PAPERS)
def test_the_same_sheet_gives_the_same_bytes(paper):
    assert paper() == paper()


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_is_written_beyond_the_edges_of_the_paper(paper):
    places = []

    def note(text, matrix, text_matrix, font, size):
        if text.strip():
            x = matrix[0] * text_matrix[4] + matrix[4]
            y = matrix[3] * text_matrix[5] + matrix[5]
            places.append((x, y))

    for page in pages(paper()):
        page.extract_text(visitor_text=note)
        right, top = float(page.mediabox.right), float(page.mediabox.top)
        # A line begins within the margins; the page number hangs below the foot.
        assert all(MARGIN - 1 <= x < right - MARGIN for x, _ in places)
        assert all(MARGIN / 2 < y < top - MARGIN for _, y in places)
        places.clear()


def test_a_statement_shows_every_finding_what_clears_it_and_its_evidence():
    sheet = statement(verdict=crowded_verdict())

    text = text_of(draw_statement(sheet))

    assert len(sheet.outstanding) == 12
    for finding in sheet.outstanding:
        assert finding.text in text
        assert finding.clears in text
        assert finding.effect in text
    for condition in sheet.conditions:
        assert condition in text


def test_a_statement_shows_levels_defects_isolations_tests_and_due_dates():
    sheet = statement(dual_file(), dual_verdict(), plate=Plate(signed={901: ODD_NAME}))

    text = text_of(draw_statement(sheet))

    for line in sheet.systems:
        assert line.mark.words in text
    assert "Slow to release" in text
    assert sheet.isolations[0] in text
    assert "28 s, limit 15 to 20 s" in text
    assert "Reservoir examination" in text
    for words_ in ("Prepared by", "Released by", "Name", "Signature", "Date, time"):
        assert words_ in text


@pytest.mark.parametrize(
    "name",
    [
        "Željko Ősz-Þórðarson, Łuș",
        "STRAUẞ",
        "Ŵyn ap Ŷnys",
        "Αθηνά Ζωή",
        "Ђорђе Ғани",
    ],
)
def test_a_name_is_shown_in_its_own_letters(name):
    sheet = statement(plate=Plate(depot=name))

    assert name in text_of(draw_statement(sheet))


@pytest.mark.parametrize(
    "odd",
    [
        pytest.param("<b>&amp;</font>", id="what looks like markup"),
        pytest.param("汉字 かな 한국 🚂 עברית", id="letters the typeface may lack"),
        pytest.param("a\x00b\x1f\ud800c\ufffe\n\n\td", id="what cannot be printed"),
        pytest.param("x" * 1_500, id="a word longer than a page"),
        pytest.param("word " * 400, id="a text longer than a page"),
        pytest.param("", id="nothing"),
    ],
)
def test_no_words_however_odd_keep_a_paper_from_being_printed(odd):
    verdict = crowded_verdict(2)
    finding = replace(verdict.findings[0], text=odd, clears=odd, source=odd)
    span = replace(verdict.spans[0], headline=odd, conditions=(odd, odd))
    odd_verdict = Verdict((finding,), (span,))
    plate = Plate(odd, odd, odd, {901: odd})
    vehicle = FleetVehicle(odd, odd, odd, odd, (span.system,), (span,))

    one = draw_statement(statement(dual_file(), odd_verdict, plate=plate))
    all_ = draw_fleet_report(fleet_sheet([vehicle], [], on=ON, printed=PRINTED))

    assert len(pages(one)) >= 1
    assert len(pages(all_)) >= 1


def test_markup_in_a_name_is_shown_as_it_was_written():
    sheet = statement(plate=Plate(depot="<b>Wenlow</b> & Sons"))

    assert "<b>Wenlow</b> & Sons" in text_of(draw_statement(sheet))


def test_every_level_has_a_shape_of_its_own_apart_from_its_colour():
    def colourless(level):
        shapes = level_shape(level, Box(0, 0, 30, 16))
        return [re.sub(r"#[0-9a-f]{6}", "ink", repr(shape)) for shape in shapes]

    drawn = [colourless(level) for level in LEVELS]

    assert {level.code for level in Level} < set(LEVELS)
    assert all(drawn.count(one) == 1 for one in drawn)


def test_a_level_is_never_shown_by_its_shape_without_its_words():
    text = text_of(draw_statement(statement(dual_file(), dual_verdict())))

    for level in Level:  # the key under the strip
        assert level.label in text


def test_a_report_of_more_vehicles_than_one_table_holds_names_every_one(monkeypatch):
    monkeypatch.setattr(typesetting, "ROWS_A_TABLE", 10)
    count = 21

    text = text_of(draw_fleet_report(fleet(count)))

    assert f"{count} vehicles" in text
    assert all(f"T {n} " in text for n in range(count))
