from hypothesis import given
from hypothesis import strategies as st

from radiosim.report.spans import Span, inside, union, without

spans = st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), max_size=6)


def instants(them: list[Span]) -> set[int]:
    return {at for start, end in them for at in range(start, end)}


@given(spans, spans)
def test_spans_are_sets_of_instants(a: list[Span], b: list[Span]) -> None:
    assert instants(union(a)) == instants(a)
    assert instants(without(a, b)) == instants(a) - instants(b)
    assert instants(inside(a, b)) == instants(a) & instants(b)


@given(spans)
def test_a_union_is_in_order_and_does_not_touch(a: list[Span]) -> None:
    ends = [end for span in union(a) for end in span]

    assert ends == sorted(set(ends))
