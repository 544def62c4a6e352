"""Which units send with more power than before, and the caution that then stands beside it."""

from radiosim.radio.band import power_caution
from radiosim.scenario.structs.scenario_file import Scenario


def raised_dbm(before: Scenario, after: Scenario) -> dict[str, float]:
    """Path of each key that says more power in `after` than in `before` → its power, dBm.

    A transmitter that only `after` has counts where it is louder than all of `before`.
    """
    loudest_dbm = max(unit.power_dbm for unit in before.transmitter.values())
    asked = {
        f"transmitter.{name}.power_dbm": (
            before.transmitter[name].power_dbm if name in before.transmitter else loudest_dbm,
            unit.power_dbm,
        )
        for name, unit in after.transmitter.items()
    }
    asked["receiver.power_dbm"] = (before.receiver.power_dbm, after.receiver.power_dbm)
    return {path: now for path, (was, now) in asked.items() if now > was}


def caution_of_change(before: Scenario, after: Scenario) -> str:
    """The caution that stands beside a change that raises power; empty if it raises none."""
    raised = raised_dbm(before, after)
    if not raised:
        return ""
    said = ", ".join(f"{path} to {power:g} dBm" for path, power in raised.items())
    return f"raises {said}: {power_caution()}"
