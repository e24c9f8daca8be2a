"""Loggers' files: every way they are written is read alike, or refused in a sentence."""

import io
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.engineering.trace_files import CHUNK_BYTES, clock_s, read_trace
from fleet.engineering.trace_heads import Columns
from fleet.engineering.traces import MOST_SAMPLES

ROWS = [(f"{at / 10:.1f}", f"{at / 20:.2f}") for at in range(60)]
TIMES = [at / 10 for at in range(60)]
VALUES = [at / 20 for at in range(60)]


def read(text, encoding="utf-8", **columns):
    file = io.BytesIO(text if isinstance(text, bytes) else text.encode(encoding))
    return read_trace(file, Columns(**columns))


def lines(form="{},{}", rows=ROWS, end="\n"):
    return end.join(form.format(*row) for row in rows) + end


def comma(text):
    return text.replace(".", ",")


CLOCK = "".join(
    f"{'2026-11-25' if at < 5 else '2026-11-26'};"
    f"{'23:59' if at < 5 else '00:00'}:{(55 + at) % 60:02d},00;{at / 2}\n".replace(
        ".", ","
    )
    for at in range(10)
)


@pytest.mark.parametrize(
    ("text", "columns"),
    [
        pytest.param("Time [s],Pressure [bar]\n" + lines(), {}, id="plain"),
        pytest.param("time,p\n" + lines(), {"unit": "bar"}, id="unit chosen"),
        pytest.param(
            "Zeit;Druck (bar)\r\n" + comma(lines("{};{}", end="\r\n")),
            {},
            id="decimal comma, carriage returns",
        ),
        pytest.param(
            '"Time [s]","p [bar]"\n' + comma(lines('"{}"|"{}"')).replace("|", ","),
            {},
            id="quoted decimal commas between commas",
        ),
        pytest.param("t\tp (bar)\n" + lines("{}\t{}"), {}, id="tabs"),
        pytest.param("Time  bar\n" + lines(" {}   {}"), {}, id="spaces"),
        pytest.param(
            "Logger 5\nserial;17\n\nTime;Cylinder\ns;bar\n" + lines("{};{}"),
            {},
            id="lines before, units below the headings",
        ),
        pytest.param(
            "Time [s],Pipe [bar],Cylinder [bar]\n" + lines("{},5.0,{}"),
            {"value": "Cylinder [bar]"},
            id="column by its heading",
        ),
        pytest.param(
            "n,Time [s],Cylinder [bar]\n"
            + "".join(f"{n},{a},{b}\n" for n, (a, b) in enumerate(ROWS)),
            {"time": 2, "value": 3},
            id="columns by number",
        ),
        pytest.param(
            "t [ms],p [bar]\n"
            + lines(rows=[(f"{at * 100}", b) for at, (_, b) in enumerate(ROWS)]),
            {},
            id="milliseconds",
        ),
        pytest.param("p [bar]\n" + lines("{1}"), {"step_s": 0.1}, id="no time column"),
        pytest.param("Time [s],p [bar]\n\n" + lines() + "\n\n", {}, id="empty lines"),
        pytest.param(
            "Time [s],p [bar]\n" + lines().rstrip("\n"), {}, id="no last line feed"
        ),
        pytest.param(
            "Time [s],p [bar]\n" + lines(end="\r"), {}, id="carriage returns alone"
        ),
    ],
)
def test_every_way_of_writing_gives_the_same_trace(text, columns):
    trace = read(text, **columns)

    assert trace.unit == "bar"
    assert list(trace.times_s) == pytest.approx(TIMES)
    assert list(trace.values) == pytest.approx(VALUES)
    assert trace.skipped == 0


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_every_encoding_is_read(encoding):
    trace = read("Zeit [s];Bremszylinder für p [bar]\n" + lines("{};{}"), encoding)

    assert len(trace) == 60


def test_a_clock_runs_past_midnight():
    trace = read("Date;Time;p [bar]\n" + CLOCK)

    assert list(trace.times_s) == pytest.approx(list(range(10)))


def test_a_date_and_time_in_one_column_are_a_clock():
    rows = [(f"2026-11-25T10:00:{at:02d}.5", at) for at in range(9)]

    trace = read("Time,p [psi]\n" + lines(rows=rows))
    assert trace.unit == "psi"
    assert list(trace.times_s) == pytest.approx(list(range(9)))


def test_lines_without_a_number_are_skipped_and_counted():
    rows = [(a, "" if at % 7 == 0 else b) for at, (a, b) in enumerate(ROWS)]
    rows[10] = (rows[10][0], "---")
    rows[11] = (rows[11][0], "NaN")

    trace = read("Time [s],p [bar]\n" + lines(rows=rows))
    assert trace.skipped == 9 + 2
    assert len(trace) == 60 - 11


def test_a_file_of_many_pieces_is_read_whole():
    rows = [(f"{at / 100:.2f}", f"{at % 500 / 100:.2f}") for at in range(60_000)]
    text = "Time [s],p [bar]\n" + lines(rows=rows, end="\r\n")
    assert len(text) > 2 * CHUNK_BYTES

    trace = read(text)
    assert len(trace) == 60_000
    assert trace.last_s == pytest.approx(599.99)
    assert trace.values[59_999] == pytest.approx(4.99)


MIXED = "Time [s],p [bar]\n" + lines()


@pytest.mark.parametrize(
    ("text", "columns", "words"),
    [
        pytest.param("", {}, "file is empty", id="empty"),
        pytest.param("hello\nworld\n", {}, "No line of the file holds", id="words"),
        pytest.param(
            "Time [s],p [bar]\n", {}, "No line of the file", id="heading only"
        ),
        pytest.param(b"\x00\x01\x02" * 5_000, {}, "No line", id="no text"),
        pytest.param("Time,p\n" + lines(), {}, "Give the unit", id="no unit"),
        pytest.param(
            MIXED,
            {"unit": "psi"},
            "heading says bar, but psi",
            id="another unit chosen",
        ),
        pytest.param(
            MIXED + "Time [s],p [psi]\n7.0,55\n",
            {},
            "Line 62 is in psi, the lines before it in bar",
            id="second heading in another unit",
        ),
        pytest.param(
            MIXED + "7.0,55 psi\n",
            {},
            "Line 62 is in psi",
            id="a value in another unit",
        ),
        pytest.param(MIXED + MIXED, {}, "second heading", id="two recordings"),
        pytest.param(
            "Time [s],p [bar]\n" + lines(rows=ROWS[::-1]),
            {},
            "backwards",
            id="reversed",
        ),
        pytest.param(
            "Time [s],p [bar]\n" + lines(rows=ROWS + ROWS), {}, "goes back", id="twice"
        ),
        pytest.param(
            "t [s],a [bar],b [bar]\n" + lines("{0},{1},{1}"),
            {},
            "which column is the pressure",
            id="two pressures",
        ),
        pytest.param(MIXED, {"value": 9}, "no column 9", id="no such column"),
        pytest.param(
            MIXED, {"value": "q"}, "No column is headed", id="no such heading"
        ),
        pytest.param(
            MIXED, {"time": 2, "value": 2}, "two different", id="one for both"
        ),
        pytest.param(MIXED, {"time_unit": "ms"}, "gives time in s", id="time unit"),
        pytest.param("p [bar]\n" + lines("{1}"), {}, "beside the time", id="no time"),
        pytest.param(
            "Time [s],T [°C]\n" + lines(), {"unit": "°C"}, "measures neither", id="heat"
        ),
    ],
)
def test_a_file_that_is_no_trace_is_refused_in_a_sentence(text, columns, words):
    with pytest.raises(ValueError, match=words):
        read(text, **columns)


def test_too_many_samples_are_refused_before_they_fill_the_memory():
    row = "1,1\n"
    file = io.BytesIO(b"Time [s],p [bar]\n" + row.encode() * (MOST_SAMPLES + 1))

    with pytest.raises(ValueError, match="more than 1 000 000"):
        read_trace(file)


def test_a_clock_is_read_to_its_fraction():
    assert clock_s("01:02:03.25") == 3723.25
    assert clock_s("01:02") == 3720
    assert clock_s("2026-11-26 00:00:00") - clock_s("2026-11-25T23:59:59") == 1
    with pytest.raises(ValueError, match="no time of day"):
        clock_s("half past")


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.decimals(0, 9, places=3), min_size=3, max_size=40),
    st.sampled_from([",", ";", "\t", "|"]),
    st.booleans(),
)
def test_what_is_written_is_read_back(values, delimiter, with_comma):
    with_comma = with_comma and delimiter != ","
    rows = [(Decimal(at) / 4, value) for at, value in enumerate(values)]
    text = lines("{}" + delimiter + "{}", rows)

    trace = read(
        "Time [s]" + delimiter + "p [bar]\n" + (comma(text) if with_comma else text)
    )
    assert list(trace.values) == [float(value) for value in values]
