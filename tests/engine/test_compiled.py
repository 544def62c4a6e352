"""Machine code is made before starts are run, and for one layout of arguments."""

import pytest

from radiosim.engine.jit import backend_for
from radiosim.engine.plan import make_plan
from radiosim.measure.start import make_folds_ready
from tests.traces import scenario_with


def test_ready_folds_compile_nothing_more() -> None:
    backend = backend_for(make_plan(scenario_with(), 0), "auto")
    if backend.compiler is None:
        pytest.skip("LLVM cannot be had")
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
        assert len(made.made) == 1, fold.__name__
