"""What compiled code is made of decides where it is kept."""

import inspect
from pathlib import Path

import pytest

from radiosim.chance import WORD, philox4x32
from radiosim.engine.jit import backend_for
from radiosim.engine.plan import make_plan
from radiosim.marks import RULES
from radiosim.measure.start import make_folds_ready
from tests.traces import scenario_with


def test_every_marked_function_stands_in_a_file_that_the_cache_knows() -> None:
    compiled = pytest.importorskip("radiosim.engine.fast.compiled")
    make_folds_ready(scenario_with(), "auto")

    files = {Path(inspect.getfile(function)) for function in RULES}

    assert files <= set(compiled._SOURCES)
    assert len(files) > 15


def test_ready_folds_compile_nothing_more() -> None:
    backend = backend_for(make_plan(scenario_with(), 0), "auto")
    if backend.compiler is None:
        pytest.skip("numba cannot be had")
    make_folds_ready(scenario_with(), "auto")

    from radiosim.measure import of_output, stream_rows
    from radiosim.vehicle.fold import output_effects as outputs
    from radiosim.vehicle.fold import program_passes

    for fold in (
        program_passes.fold_passes,
        program_passes.fold_step,
        program_passes.fold_idle,
        outputs.fold_output,
        stream_rows.fold_rows,
        stream_rows.fold_end,
        of_output.fold_effects,
        of_output.fold_end,
    ):
        made = backend.entry(fold)
        assert len(made.signatures) == 1, fold.__name__


def test_compiled_draws_are_the_plain_ones_in_every_bit() -> None:
    compiled = pytest.importorskip("radiosim.engine.fast.compiled")

    def odd_bits(k: int, key: int) -> int:
        """Tells of each bit apart: a compiler may work out one without the others."""
        a, b, c, d = philox4x32(k, 0, k, 3, key, key)
        low = (a & 1) + 2 * (b & 1) + 4 * (c & 1) + 8 * (d & 1)
        return low + 16 * (a >> 31) + 32 * (b >> 31) + 64 * (c >> 31) + 128 * (d >> 31)

    made = compiled.compiled_loop(odd_bits)
    for k in range(300):
        key = (k * 0x9E3779B9) & WORD
        assert made(k, key) == odd_bits(k, key)
