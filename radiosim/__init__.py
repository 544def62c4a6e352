"""Simulates home-made radio control links before any firmware is written.

Load a scenario, run some starts of it, and ask what came out:

    scenario = radiosim.load("twin-clocks").replace(**{"transmitter.head.period_ms": 23})
    result = radiosim.run(scenario, starts=6)
    print(result.report())

Commands are functions of the same options; their results have `report`, `tables`, `plot`, `json`
and `page`. `simulate` gives a start row by row, `summarise` measures it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from radiosim.version import VERSION as __version__  # noqa: N811 - the usual name

if TYPE_CHECKING:
    from radiosim.errors import RadiosimError
    from radiosim.measure import summarise
    from radiosim.measure.summary import Summary
    from radiosim.python.result import StudyResult
    from radiosim.python.run import Result, run
    from radiosim.python.studies import bench_test, channels, drill, layout_compare, tune
    from radiosim.python.studies import reach as range  # noqa: A004 - the command's name
    from radiosim.scenario import Scenario, load
    from radiosim.trace import AcknowledgementFate, Fate, Outcome, ReadOutcome, Trace
    from radiosim.vehicle.feedback import simulate

__all__ = [
    "AcknowledgementFate",
    "Fate",
    "Outcome",
    "RadiosimError",
    "ReadOutcome",
    "Result",
    "Scenario",
    "StudyResult",
    "Summary",
    "Trace",
    "__version__",
    "bench_test",
    "channels",
    "drill",
    "layout_compare",
    "load",
    "range",
    "run",
    "simulate",
    "summarise",
    "tune",
]

_TRACE, _STUDIES = "radiosim.trace", "radiosim.python.studies"
_HOMES = {
    "AcknowledgementFate": _TRACE,
    "Fate": _TRACE,
    "Outcome": _TRACE,
    "RadiosimError": "radiosim.errors",
    "ReadOutcome": _TRACE,
    "Result": "radiosim.python.run",
    "Scenario": "radiosim.scenario",
    "StudyResult": "radiosim.python.result",
    "Summary": "radiosim.measure.summary",
    "Trace": _TRACE,
    "bench_test": _STUDIES,
    "channels": _STUDIES,
    "drill": _STUDIES,
    "layout_compare": _STUDIES,
    "load": "radiosim.scenario",
    "range": _STUDIES,
    "run": "radiosim.python.run",
    "simulate": "radiosim.engine.simulate",
    "summarise": "radiosim.measure",
    "tune": _STUDIES,
}
"""Module of each public name."""
_THERE = {"range": "reach"}
"""Names in their modules where they would hide one of Python's own."""


def __getattr__(name: str) -> Any:
    # Imported when first asked for: `import radiosim` stays quick.
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(home), _THERE.get(name, name))


def __dir__() -> list[str]:
    return __all__
