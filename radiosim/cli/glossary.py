"""`radiosim glossary`: what a key of the scenario or a figure of the results means."""

from typing import Annotated

import typer

from radiosim.cli.exits import DONE


def glossary(
    *,
    key: Annotated[
        str | None,
        typer.Argument(
            metavar="[KEY]",
            help="As transmitter.drive.period_ms or stream.drive.gap_ms.max; names may be left "
            "out.",
            show_default=False,
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print it as JSON.")] = False,
) -> int:
    """Tell what a key or a figure means, what it moves, how to measure it."""
    from radiosim.report.glossary import as_json, contents, entries, found, told

    if key is None:
        print(as_json(entries()) if json else contents())
    else:
        hits = found(key)
        print(as_json(hits) if json else told(hits))
    return DONE
