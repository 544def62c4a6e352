"""A number with its noun."""

from radiosim.counted import counted


def test_one_is_singular_and_all_else_plural() -> None:
    assert [counted(n, "frame") for n in (0, 1, 2, 1200)] == [
        *("0 frames", "1 frame"),
        *("2 frames", "1,200 frames"),
    ]
    assert counted(2, "retry", "retries") == "2 retries"
    assert [counted(n, "time") for n in (0.5, 1.0)] == ["0.5 times", "1 time"]
