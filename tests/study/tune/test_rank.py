"""Points in order."""

from collections.abc import Sequence

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from radiosim.study.tune import rank
from radiosim.study.tune.rank import Aim, pareto_front_of
from radiosim.study.tune.tune_results import StreamAtPoint, Tried
from tests.study.tune.points import BEATING, tried

NEAR = (BEATING,)
AIM = Aim(own=tried(-1))


def ranked_of(points: Sequence[Tried]) -> list[Tried]:
    return rank.ranked_of(points, AIM)


def why_of(best: Tried | None, ranked: Sequence[Tried]) -> str:
    return rank.why_of(best, ranked, AIM)


def order(*points: Tried) -> list[float | None]:
    return [entry.values[0] for entry in ranked_of(points)]


def test_the_largest_margin_leads() -> None:
    assert order(tried(1, margin=0.2), tried(2, margin=0.5), tried(3, margin=-0.1)) == [2, 1, 3]


def test_of_margins_alike_the_least_air_time_leads() -> None:
    points = (
        tried(1, margin=0.500),
        tried(2, margin=0.495, duty_cycle=0.05),
        tried(3, margin=0.48),
    )

    assert order(*points)[0] == 2


def test_clocks_that_beat_come_after_all_that_hold_without() -> None:
    assert order(tried(1, margin=0.9, pairs=NEAR), tried(2, margin=0.1), tried(3, margin=-0.5)) == [
        2,
        1,
        3,
    ]


def test_of_those_that_miss_the_one_that_misses_fewest_leads() -> None:
    assert order(tried(1, margin=-1, missed=2), tried(2, margin=-1, missed=1)) == [2, 1]


def of_stream(margin: float) -> StreamAtPoint:
    return StreamAtPoint(
        update_rate_hz=50.0,
        delivery_ratio=1.0,
        longest_gap_ms=20.0,
        age_mean_ms=10.0,
        age_median_ms=10.0,
        age_p99_ms=20.0,
        nuisance_per_hour=None,
        margin=margin,
        clash_share=0.0,
        predicted_clash_share=0.0,
    )


@given(st.lists(st.tuples(*[st.floats(-1, 1)] * 2), min_size=1, max_size=6))
def test_of_several_preferred_streams_the_one_that_is_worst_off_counts(
    margins: list[tuple[float, float]],
) -> None:
    aim = Aim(own=tried(-1), prefer=("drive", "head"))
    for drive, head in margins:
        point = tried(1, stream={"drive": of_stream(drive), "head": of_stream(head)})
        assert aim.score(point) == min(drive, head)


def test_what_was_refused_has_no_place() -> None:
    assert order(tried(1, margin=None), tried(2, margin=0.1)) == [2]
    assert why_of(None, []) == "no point could be judged"


def test_a_point_whose_clocks_beat_is_never_recommended_without_saying_so() -> None:
    for margin in (0.5, -0.5):
        ranked = ranked_of([tried(1, margin=margin, pairs=NEAR)])
        why = why_of(ranked[0], ranked)

        assert "RELIES on the clocks of drive and head not beating" in why
        assert "as often as every 100 s, for 130 frames in a row" in why


def test_every_pair_that_beats_is_named_and_the_one_that_beats_most_often_is_measured() -> None:
    others = [
        msgspec.structs.replace(BEATING, second="lamp", every_s=50.0),
        msgspec.structs.replace(BEATING, first="head", second="lamp", every_s=None, window_ms=0.7),
        msgspec.structs.replace(BEATING, second="arm", is_beating=False),
    ]
    ranked = ranked_of([tried(1, margin=0.5, pairs=(BEATING, *others))])
    why = why_of(ranked[0], ranked)

    assert "the clocks of drive and head, of drive and lamp, of head and lamp not beating" in why
    assert "arm" not in why
    # None comes apart at all: nothing meets more often.
    assert "most often head and lamp, whose periods are 0 ms from a multiple, within 0.7 ms" in why


def test_the_reason_names_the_requirement_that_is_nearest_to_its_limit() -> None:
    ranked = ranked_of([tried(1, margin=0.25)])

    assert "stream.drive.gap_ms.max (123) is nearest to its limit, with 25 % to spare" in why_of(
        ranked[0], ranked
    )


def test_a_better_point_that_was_left_aside_for_its_clocks_is_not_hidden() -> None:
    for margin, is_said in ((0.9, True), (0.1, False), (-0.1, False)):
        ranked = ranked_of([tried(1, margin=margin, pairs=NEAR), tried(2, margin=0.2)])
        why = why_of(ranked[0], ranked)

        assert ranked[0].values == (2,)
        assert ("of 2 points, without those whose clocks beat, it keeps" in why) == is_said


COSTS = st.tuples(st.integers(0, 4), st.integers(0, 4), st.integers(0, 4))


@given(st.lists(COSTS, min_size=1, max_size=25))
def test_the_pareto_front_is_what_nothing_beats(costs: list[tuple[int, int, int]]) -> None:
    points = [
        tried(k, margin=0.5, age_p99_ms=a, duty_cycle=b, charge_mah_per_hour=c)
        for k, (a, b, c) in enumerate(costs)
    ]

    def beats(one: tuple[int, int, int], other: tuple[int, int, int]) -> bool:
        return one != other and all(x <= y for x, y in zip(one, other, strict=True))

    expected = {k for k, cost in enumerate(costs) if not any(beats(other, cost) for other in costs)}
    assert {entry.values[0] for entry in pareto_front_of(ranked_of(points))} == expected


def test_only_points_that_hold_and_were_read_are_on_the_pareto_front() -> None:
    points = [
        tried(1, margin=-0.1),
        tried(2, margin=0.1, age_p99_ms=None),
        tried(3, margin=0.1),
    ]

    assert [entry.values for entry in pareto_front_of(ranked_of(points))] == [(3,)]
