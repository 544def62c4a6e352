"""The map over two settings."""

from radiosim.report.tune_map import LETTERS, NOTHING, map_of
from radiosim.study.tune.point import CAUSES
from radiosim.study.tune.tune_results import Tried
from tests.study.tune.points import BEATING, tried


def point(
    across: float, down: float, margin: float | None, cause: str = "", *, is_beating: bool = False
) -> Tried:
    pairs = (BEATING,) if is_beating else ()
    return tried(across, down, margin=margin, cause=cause, pairs=pairs)


def test_every_cause_has_a_letter_of_its_own() -> None:
    assert set(LETTERS) == set(CAUSES)
    assert len(set(LETTERS.values())) == len(CAUSES)


def test_a_cell_shows_what_became_of_its_point() -> None:
    made = map_of(
        [
            point(1, 10, 0.5),
            point(2, 10, 0.5, is_beating=True),
            point(1, 20, -0.5, "collision"),
            point(2, 20, None),
        ],
        0,
        1,
    )

    assert made.letters == (".~", "Cx")
    assert made.across == ((1, 1), (2, 2))
    assert made.used == ".Cx~"


def test_the_best_of_a_cell_stands_for_it() -> None:
    made = map_of([point(1, 1, -0.5, "chance"), point(1, 1, 0.1), point(1, 1, None)], 0, 1)

    assert made.letters == (".",)


def test_a_cell_without_a_point_is_empty() -> None:
    points = [point(k, k, 0.5) for k in range(4)]

    assert map_of(points, 0, 1).letters == (".   ", " .  ", "  . ", "   .")


def test_a_value_lies_in_its_cell_or_in_none() -> None:
    made = map_of([point(1, 10, 0.5), point(2, 20, -0.5, "collision")], 0, 1)

    assert [made.letter_at(*at) for at in ((1, 10), (2, 20), (1, 20), (3, 10))] == [
        *(".", "C"),
        *(NOTHING, NOTHING),
    ]


def test_many_values_are_taken_together_and_none_is_lost() -> None:
    points = [point(k % 97, k % 89, 0.5) for k in range(300)]
    made = map_of(points, 0, 1)

    assert len(made.across) <= 40
    assert len(made.down) <= 20
    assert (made.across[0][0], made.across[-1][1]) == (0, 96)
    assert (made.down[0][0], made.down[-1][1]) == (0, 88)
