"""Simulates home-made radio control links before any firmware is written.

Load a scenario, simulate one start of it, summarise what happened:

    scenario = radiosim.load("scenario.toml")
    trace = radiosim.simulate(scenario, seed=7, start=0)
    summary = radiosim.summarise(trace)
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from radiosim.version import VERSION as __version__  # noqa: N811 - the usual name

if TYPE_CHECKING:
    from radiosim.engine.simulate import simulate
    from radiosim.errors import RadiosimError
    from radiosim.measure import summarise
    from radiosim.measure.summary import Summary
    from radiosim.scenario import Scenario, load
    from radiosim.trace import Trace

__all__ = [
    "RadiosimError",
    "Scenario",
    "Summary",
    "Trace",
    "__version__",
    "load",
    "simulate",
    "summarise",
]

_HOMES = {
    "RadiosimError": "radiosim.errors",
    "Scenario": "radiosim.scenario",
    "Summary": "radiosim.measure.summary",
    "Trace": "radiosim.trace",
    "load": "radiosim.scenario",
    "simulate": "radiosim.engine.simulate",
    "summarise": "radiosim.measure",
}


def __getattr__(name: str) -> Any:
    # Imported when first asked for: `import radiosim` stays quick.
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(home), name)


def __dir__() -> list[str]:
    return __all__
