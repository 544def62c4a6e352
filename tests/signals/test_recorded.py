"""Controls recorded in a table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.signals import Csv, Span, read_points
from radiosim.signals.recorded import MOST_ROWS

STICK = Span(minimum=-1.0, maximum=1.0, neutral=0.0, steps=2001, scale=0.001)
POINTS = ((1.0, 0.0), (2.0, 1.0), (4.0, -1.0))


@pytest.mark.parametrize(
    ("seconds", "value"),
    [(0.0, 0.0), (1.0, 0.0), (1.25, 0.25), (2.0, 1.0), (3.0, 0.0), (4.0, -1.0), (99.0, -1.0)],
)
def test_values_lie_on_straight_lines_and_the_ends_are_held(seconds: float, value: float) -> None:
    assert Csv(file="a.csv", points=POINTS).value_at(seconds, 0, STICK) == value


@pytest.mark.parametrize(
    ("seconds", "value"), [(0.5, 0.0), (3.0, 0.0), (4.0, 0.0), (4.25, 0.25), (5.0, 1.0)]
)
def test_a_loop_begins_again_at_its_first_row(seconds: float, value: float) -> None:
    assert Csv(file="a.csv", points=POINTS, loop=True).value_at(seconds, 0, STICK) == value


def test_one_row_is_a_constant() -> None:
    for loop in (False, True):
        signal = Csv(file="a.csv", points=((3.0, 0.5),), loop=loop)
        assert [signal.value_at(s, 0, STICK) for s in (0.0, 3.0, 9.0)] == [0.5, 0.5, 0.5]


def test_a_table_that_was_not_read_has_no_values() -> None:
    text = "table 'a.csv' must be read before it has values"

    with pytest.raises(ValueError, match=text):
        Csv(file="a.csv").value_at(0.0, 0, STICK)
    with pytest.raises(ValueError, match=text):
        Csv(file="a.csv").extremes(STICK)


@given(
    st.sets(st.floats(-1e6, 1e6), min_size=1, max_size=20).map(sorted),
    st.floats(-1e6, 1e6),
)
def test_a_table_written_is_read_back(times: list[float], value: float) -> None:
    points = tuple((time, value) for time in times)
    text = "t_s,value\n" + "".join(f"{time!r},{value!r}\n" for time, value in points)

    assert read_points(text, "value") == points


@pytest.mark.parametrize(
    "text",
    [
        "t_s,yaw\n0,1\n2,3\n",
        "\ufefft_s, yaw\r\n0, 1\r\n\r\n2, 3\r\n",
        'note,"yaw",t_s\nstart,1,0\n"a, b",3,2',
    ],
)
def test_tables_as_spreadsheets_write_them_are_read(text: str) -> None:
    assert read_points(text, "yaw") == ((0.0, 1.0), (2.0, 3.0))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "row 1: must have a column 't_s', got an empty file"),
        ("t_s,yaw\n0,1\n", "row 1: must have a column 'value', got 't_s', 'yaw'"),
        ("time,value\n0,1\n", "row 1: must have a column 't_s', got 'time', 'value'"),
        ("t_s,value,value\n0,1,2\n", "row 1: must have one column 'value', got 2"),
        ("t_s,value\n", "must have at least one row below its header, got none"),
        ("t_s,value\n0,1\n1,x\n", "row 3, column 'value': must be a finite number, got 'x'"),
        ("t_s,value\n0,nan\n", "row 2, column 'value': must be a finite number, got 'nan'"),
        ("t_s,value\ninf,1\n", "row 2, column 't_s': must be a finite number, got 'inf'"),
        ("t_s,value\n0\n", "row 2, column 'value': must be a finite number, got no cell"),
        (
            "t_s,value\n0,1\n\n1,1\n1,2\n",
            "row 5, column 't_s': must be > 1 (the row before), got 1",
        ),
        ("t_s,value\n5,1\n4,2\n", "row 3, column 't_s': must be > 5 (the row before), got 4"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused(text: str, message: str) -> None:
    with pytest.raises(ValueError, match="must") as caught:
        read_points(text, "value")

    assert str(caught.value) == message


def test_a_cell_too_long_for_a_number_is_refused() -> None:
    with pytest.raises(ValueError, match="row 2: must be values with commas between: field larger"):
        read_points("t_s,value\n0," + "1" * 200_000, "value")


def test_a_table_has_an_upper_limit_of_rows() -> None:
    rows = "".join(f"{row},0\n" for row in range(MOST_ROWS))

    assert len(read_points("t_s,value\n" + rows, "value")) == MOST_ROWS
    with pytest.raises(ValueError, match="row 100002: must be at most 100,000 rows, got more"):
        read_points(f"t_s,value\n{rows}{MOST_ROWS},0\n", "value")


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    refusal = ""
    try:
        points = read_points("t_s,value\n" + text, "value")
    except ValueError as error:
        points, refusal = (), str(error)

    assert points or "must" in refusal
