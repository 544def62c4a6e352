"""`radiosim live`: a page of figures that follow its sliders."""

from dataclasses import dataclass

from radiosim.cli.console import DONE, print_caution, say
from radiosim.cli.options import Mark, Options, argument, option


@dataclass(frozen=True, kw_only=True)
class LiveOptions(Options):
    """Options of `radiosim live`."""

    COMMAND = "live"

    source: str = argument(
        "SCENARIO", "Scenario file, or name of a shipped scenario.", Mark.SCENARIO
    )
    port: int = option("P", "Port; 0: a free one.", default=0, edges=(0, 65_535))


def live(options: LiveOptions) -> int:
    """Open a scenario as a page with sliders, on this machine alone; Ctrl-C ends it."""
    from radiosim.cli.harness import ready_engine
    from radiosim.live.desk import Desk
    from radiosim.live.server import LiveServer
    from radiosim.scenario.shipped import scenario_path, shipped_scenario

    path, shipped = scenario_path(options.source), shipped_scenario(options.source)
    desk = Desk(path, options.source, is_own=shipped is None or path != shipped.path)
    ready_engine("auto", desk.scenario)
    with LiveServer(desk, options.port) as server:
        say(f"{desk.hello()['title']}: open in a browser on this machine")
        say(server.address)
        say("Ctrl-C ends it.")
        print_caution()
        server.serve_forever(poll_interval=0.5)
    return DONE
