from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import inspect as mi

from radiosim.registers.figure_register import figure_paths
from radiosim.scenario.problems import problems, shown
from radiosim.scenario.read import is_exact
from radiosim.scenario.structs.output_table import OutputTable
from radiosim.scenario.structs.transmitter_table import TransmitterTable
from tests.examples import examples

_STRUCTS: tuple[type[msgspec.Struct], ...] = (OutputTable, TransmitterTable)
_scalars = st.one_of(
    st.integers(-(2**65), 2**65),
    st.floats(),
    st.booleans(),
    st.sampled_from(["drawn", "none", "hold", "servo", "link", "flag", "elapsed", "", "x"]),
)
_values: st.SearchStrategy[Any] = st.recursive(
    _scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(["preset_us", "travel_deg", "kind", "every_ms", "takes_ms", "over_us"]),
            inner,
            max_size=3,
        ),
    ),
    max_leaves=5,
)


@pytest.mark.parametrize("struct", _STRUCTS, ids=lambda struct: struct.__name__)
@given(st.data())
@examples(150)
def test_the_decoder_takes_what_has_no_problem_and_nothing_else_but_for_odd_numbers(
    struct: type[msgspec.Struct], data: st.DataObject
) -> None:
    keys = st.sampled_from([*struct.__struct_fields__, "unknown"])
    document = data.draw(st.dictionaries(keys, _values, max_size=4))

    found = list(problems(document, mi.type_info(struct)))

    if found:
        assert all(text for _, text in found)
        assert not is_exact(document) or not _decodes(document, struct)
    else:
        assert _decodes(document, struct)


def _decodes(document: dict[str, Any], struct: type[msgspec.Struct]) -> bool:
    try:
        return isinstance(msgspec.convert(document, struct), struct)
    except msgspec.ValidationError:
        return False


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        ({"a": 1}, "a table"),
        ("a\x1b[31m", r"'a\x1b[31m'"),
        (10**30, "a number of more than 64 bits"),
        ("x" * 100, "'" + "x" * 58 + "…"),
    ],
)
def test_a_value_is_shown_as_it_stands_in_a_file(value: Any, text: str) -> None:
    assert shown(value) == text


def test_figures_are_named_as_the_results_name_them() -> None:
    known = figure_paths(("drive",), ("left",))

    for figure in (
        "stream.drive.gap_ms.max",
        "stream.drive.age_ms.p99",
        "stream.drive.failsafe.nuisance_per_hour",
        "output.left.longest_hold_ms",
        "air.occupancy",
        "worst.drive.reaction_ms",
    ):
        assert figure in known
