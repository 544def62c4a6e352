"""What every shipped scenario gives where llvmlite cannot be had: `python -m …` prints it."""

import json
import sys

import msgspec

from radiosim.engine.simulate import simulate
from radiosim.measure.start import tally_start
from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scenarios
from tests.chunks import plain


def tallies_by_name() -> dict[str, str]:
    """All that is counted and measured until its faults are over, as text that shows every bit."""
    found = {}
    for shipped in shipped_scenarios():
        scenario = load(shipped.path)
        last_s = max((fault.at_s + (fault.for_s or 0) for fault in scenario.fault), default=0.0)
        shorter = msgspec.structs.replace(scenario, duration_s=min(scenario.duration_s, last_s + 5))
        tally = plain(tally_start(simulate(shorter)))
        # That alone tells the engines apart.
        del tally["engine"]
        found[shipped.name] = json.dumps(tally)
    return found


if __name__ == "__main__":
    sys.modules["llvmlite"] = None  # type: ignore[assignment]
    print(json.dumps(tallies_by_name()))
