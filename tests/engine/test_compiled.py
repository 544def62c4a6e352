"""Machine code is made before starts are run, and for one layout of arguments."""

import dataclasses
import inspect

import pytest

from radiosim.chance import WORD, philox4x32
from radiosim.engine.jit import backend_for
from radiosim.engine.plan import make_plan
from radiosim.engine.rules.noise import noise_number
from radiosim.machine import compiled, kept
from radiosim.measure.start import make_folds_ready, tally_flow
from radiosim.trace import FIRST_NOISE
from radiosim.vehicle.feedback import flow
from tests.traces import scenario_with


def test_ready_folds_compile_nothing_more() -> None:
    if backend_for(make_plan(scenario_with(), 0), "auto").compiler is None:
        pytest.skip("LLVM cannot be had")
    make_folds_ready(scenario_with(), "auto")
    loaded = set(kept._loader().names)

    tally_flow(flow(scenario_with()))
    tally_flow(dataclasses.replace(flow(scenario_with()), is_new=False))

    assert kept._loader().names == loaded


@compiled
def odd_bits(k: int, key: int) -> int:
    """Tells of each bit apart: a compiler may work out one without the others."""
    a, b, c, d = philox4x32(k, 0, k, 3, key, key)
    low = (a & 1) + 2 * (b & 1) + 4 * (c & 1) + 8 * (d & 1)
    return low + 16 * (a >> 31) + 32 * (b >> 31) + 64 * (c >> 31) + 128 * (d >> 31)


def test_compiled_draws_are_the_plain_ones_in_every_bit() -> None:
    for k in range(300):
        key = (k * 0x9E3779B9) & WORD
        assert odd_bits(k, key) == inspect.unwrap(odd_bits)(k, key)


said_by_noise = compiled(noise_number)


@pytest.mark.parametrize(
    ("bits", "is_signed", "float_bits"),
    [(1, 0, 0), (16, 1, 0), (33, 0, 0), (64, 1, 0), (32, 0, 32), (64, 0, 64)],
)
def test_compiled_noise_says_what_plain_noise_does(
    bits: int, is_signed: int, float_bits: int
) -> None:
    for frame in range(FIRST_NOISE, FIRST_NOISE - 600, -1):
        asked = frame, bits, is_signed, float_bits, 0.5, 11, 12
        assert said_by_noise(*asked) == noise_number(*asked)
