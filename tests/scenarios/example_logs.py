"""Make the example logs that ship: `python -m tests.scenarios.example_logs`.

Nobody has measured them: they are simulated, with settings that the scenario does not have.
"""

from pathlib import Path

from radiosim.bench_log.csv_records import HEADER, csv_lines
from radiosim.bench_log.probe_records import encoded
from radiosim.firmware.settings_header import stamp_of
from radiosim.scenario import load
from radiosim.scenario.changed import changed
from radiosim.scenario.shipped import scenario_path
from radiosim.study.fit.fit import names_of
from radiosim.study.fit.simulated import logs_of
from radiosim.vehicle.feedback import simulate

FOLDER = Path(__file__).parents[2] / "scenarios" / "logs"
HIDDEN = ("receiver.loop_ms=3.1", "transmitter.drive.jitter_ms=1.2")
SEED, LASTS_S = 2024, 14
INVENTED = "# Invented: simulated from `smallest` with settings that it does not have; no board."


def example_logs() -> dict[str, bytes]:
    """Name and content of each file."""
    scenario = load(scenario_path("smallest"))
    trace = simulate(changed(scenario, (*HIDDEN, f"duration_s={LASTS_S}")), seed=SEED)
    made = logs_of(trace, int(stamp_of(scenario), 16))
    text = [INVENTED, HEADER, *csv_lines(made["drive"], "drive", names_of(scenario)), ""]
    return {
        "smallest-receiver.log": encoded(made["receiver"]),
        "smallest-drive.csv": "\n".join(text).encode(),
    }


if __name__ == "__main__":
    for name, content in example_logs().items():
        (FOLDER / name).write_bytes(content)
        print(name)
