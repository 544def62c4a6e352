"""The map over two settings."""

import itertools

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from radiosim.report.figures import periods
from radiosim.report.tune_map import LETTERS, NOTHING, map_of, mapped_settings, no_map_texts
from radiosim.study.tune.influence import Influence
from radiosim.study.tune.point import CAUSES
from radiosim.study.tune.tune_results import Tried, Tuned
from radiosim.study.tune.varied import Setting, grid
from tests.report.reports import a_tuning
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


def tuning(shares: list[float], *, is_grid: bool, words: int = 0) -> Tuned:
    """A tuning of some settings with some shares, the first of them words."""
    settings = tuple(
        Setting(key=f"a.k{k}", values=("x", "y", "z") if k < words else (1.0, 2.0, 3.0))
        for k in range(len(shares))
    )
    places = grid(settings)
    if not is_grid:
        places = places[:: len(places) // 7 + 1]
    of = {
        setting.key: Influence(first_order=share, total=share if is_grid else None)
        for setting, share in zip(settings, shares, strict=True)
    }
    points = tuple(tried(*values) for values in places)
    return msgspec.structs.replace(
        a_tuning(), settings=settings, points=points, influence=of, as_it_stands=points[0],
        recommended=None,
    )  # fmt: skip


@given(
    st.lists(st.sampled_from([0.0, 0.004, 0.02, 0.3, 0.6]), min_size=1, max_size=4),
    st.booleans(),
    st.integers(0, 2),
)
def test_a_map_is_drawn_over_settings_that_explain_something_and_never_over_scattered_points(
    shares: list[float], is_grid: bool, words: int
) -> None:
    found = tuning(shares, is_grid=is_grid, words=min(words, len(shares)))
    shown = mapped_settings(found)
    telling = [k for k in range(words, len(shares)) if shares[k] >= 0.01]

    assert (shown is not None) == (len(telling) >= 2 and (is_grid or len(shares) <= 2))
    assert (periods.figure(found) is None) == (shown is None)
    if shown is not None:
        assert set(shown) <= set(telling)
        least = min(shares[k] for k in shown)
        assert all(shares[k] <= least for k in set(telling) - set(shown))
    sentences = no_map_texts(found) if shown is None else ()
    said = " ".join(of if isinstance(of, str) else of.text for of in sentences)
    assert bool(said) == (shown is None and len(shares) >= 2)
    if len(telling) >= 2 and shown is None:
        pairs = [
            f"--vary a.k{a}=1,2,3 --vary a.k{b}=1,2,3"
            for a, b in itertools.combinations(telling, 2)
        ]
        assert any(pair in said for pair in pairs)
