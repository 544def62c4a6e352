"""Plain values of options are read as the library reads them, and all others are left to it."""

from typing import Annotated, Any

from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field, TypeAdapter, ValidationError

from radiosim.cli.plain_values import OTHER, plain_value
from radiosim.edges import Edges
from tests.examples import examples

EDGES = Edges(1, 1_000)
TEXTS = st.one_of(
    st.text("0123456789.eE+-_ ٣", max_size=12),
    st.integers(-2_000, 2_000).map(str),
    st.floats(-2_000, 2_000).map(str),
)


def in_full(kind: type[float], edges: Edges | None, text: str) -> Any:
    """What the library makes of a text; OTHER: it refuses it."""
    limits = {} if edges is None else {"ge": edges.low, "le": edges.high}
    try:
        return TypeAdapter(Annotated[kind, Field(**limits)]).validate_python(text)  # type: ignore[arg-type]
    except ValidationError:
        return OTHER


@examples(500)
@given(TEXTS, st.sampled_from((int, float)), st.sampled_from((None, EDGES)))
def test_a_number_is_the_one_that_the_library_reads(
    text: str, kind: type[float], edges: Edges | None
) -> None:
    value = plain_value(kind | None, edges, text)

    if value is not OTHER:
        assert (value, type(value)) == (in_full(kind, edges, text), kind)


def test_what_is_usually_typed_is_plain() -> None:
    assert plain_value(int | None, EDGES, "30") == 30
    assert plain_value(float, EDGES, "12.5") == 12.5
    assert plain_value(str, None, "smallest") == "smallest"
    assert plain_value(tuple[str, ...], None, ("a=1", "b=2")) == ["a=1", "b=2"]


def test_beyond_the_edges_the_library_speaks() -> None:
    assert plain_value(int, EDGES, "0") is OTHER
    assert plain_value(float, EDGES, "1000.5") is OTHER
