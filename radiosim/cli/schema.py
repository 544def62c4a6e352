"""`radiosim schema`: JSON Schema of the scenario file, or of what commands write."""

from typing import Annotated

import typer

from radiosim.cli.exits import DONE


def schema(
    results: Annotated[
        bool,
        typer.Option("--results", help="Of the JSON that each command writes, by its name."),
    ] = False,
) -> int:
    """Print the JSON Schema of a scenario file."""
    import json

    if results:
        from radiosim.report.schemas import result_schemas

        document = result_schemas()
    else:
        from radiosim.scenario import json_schema

        document = json_schema()
    print(json.dumps(document, indent=2, ensure_ascii=False))
    return DONE
