import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.retry_delay import neighbours, step_of, with_step


# Source: PS 7.4.2 (facts: S): 250 to 4000 us in steps of 250. The step number is the register's.
@pytest.mark.parametrize(("delay_us", "step"), [(250, 0), (500, 1), (750, 2), (4000, 15)])
def test_a_delay_has_the_step_number_that_firmwares_hold(delay_us: float, step: int) -> None:
    assert step_of(delay_us) == step
    assert with_step(delay_us) == f"{delay_us} us (step {step})"


@pytest.mark.parametrize("delay_us", [0.0, 100, 249.9, 600, 4250, 1e9])
def test_other_delays_have_none(delay_us: float) -> None:
    assert step_of(delay_us) is None
    assert with_step(delay_us).endswith("(no step)")


@given(st.integers(min_value=0, max_value=15))
def test_step_and_delay_are_inverse(step: int) -> None:
    assert step_of(250.0 * (step + 1)) == step


def test_the_steps_around_are_named() -> None:
    assert neighbours(600) == "next to it are 500 us (step 1) and 750 us (step 2)"
    assert neighbours(5000) == "the last is 4000 us (step 15)"
    assert neighbours(100) == "the first is 250 us (step 0)"
