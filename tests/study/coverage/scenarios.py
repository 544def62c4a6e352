"""Small scenarios of short starts: independent losses, beating clocks, and all at once."""

from radiosim.scenario import Scenario, parse

_ALL = """
duration_s = 2
# All units are up at once: what is missed while they boot is not what is counted here.
radio = {{ profile = "gfsk-1M", settle_us = 0, crystal_start_us = 0, power_on_reset_ms = 0 }}
receiver = {{ read = "all", boot_s = 0 {receiver} }}
failsafe.drive = {{ timeout_ms = 90 }}
failsafe.head = {{ timeout_ms = 50 }}
output.throttle = {{ stream = "drive", field = "value", kind = "pin" }}
air = {{ loss = {loss} {air} }}
[transmitter.drive]
boot_s = 0
period_ms = 20
payload_bytes = 6
acknowledge = false
clock_ppm = 60
[transmitter.head]
boot_s = 0
period_ms = {head_ms}
payload_bytes = 6
acknowledge = false
clock_ppm = -60
"""


def _scenario(*, loss: float, head_ms: float, receiver: str = "", air: str = "") -> Scenario:
    return parse(_ALL.format(loss=loss, head_ms=head_ms, receiver=receiver, air=air))


SCENARIOS = {
    "independent": _scenario(loss=0.2, head_ms=23),
    # The clocks meet for 1.9 s every 167 s.
    "beating": _scenario(loss=0.02, head_ms=20),
    # Three grids that beat with each other, and bursts.
    "mixed": _scenario(
        loss=0.1,
        head_ms=20,
        receiver=", deaf = [{ every_ms = 20.02, for_ms = 1.5 }], clock_ppm = 20",
        air=", burst = { good_ms = 400, bad_ms = 30, loss_bad = 0.8 }",
    ),
}
