"""`radiosim live`: a page of figures that follow its sliders."""

from dataclasses import dataclass

from radiosim.cli.console import DONE, print_caution, say
from radiosim.cli.options import Mark, Options, argument, option

POLL_S = 0.5
"""How often what asks too slowly is looked for."""


@dataclass(frozen=True, kw_only=True)
class LiveOptions(Options):
    """Options of `radiosim live`."""

    COMMAND = "live"

    source: str | None = argument(
        "[SCENARIO]",
        "Scenario file, or name of a shipped scenario; left out: choose on the page.",
        Mark.SCENARIO,
        default=None,
    )
    port: int = option("P", "Port; 0: a free one.", default=0, edges=(0, 65_535))


def live(options: LiveOptions) -> int:
    """Open a scenario as a page with sliders, on this machine alone; Ctrl-C ends it."""
    from pathlib import Path

    from radiosim.cli.harness import ready_engine
    from radiosim.live.desk import Desk
    from radiosim.live.hall import Hall, Single
    from radiosim.live.server import LiveServer
    from radiosim.scenario.shipped import scenario_path, shipped_scenario

    places: Hall | Single
    if options.source is None:
        places, title = Hall(Path()), "Scenarios to open, and questions that make a new one"
    else:
        path, shipped = scenario_path(options.source), shipped_scenario(options.source)
        desk = Desk(path, options.source, is_own=shipped is None or path != shipped.path)
        ready_engine("auto", desk.scenario)
        places, title = Single(desk), str(desk.hello()["title"])
    with LiveServer(places, options.port) as server:
        say(f"{title}: open in a browser on this machine")
        say(server.address)
        say("Ctrl-C ends it.")
        print_caution()
        server.serve_forever(poll_interval=POLL_S)
    return DONE
