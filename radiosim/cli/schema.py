"""`radiosim schema`: the scenario file's JSON Schema."""

from radiosim.cli.exits import DONE


def schema() -> int:
    """Print the JSON Schema of a scenario file."""
    import json

    from radiosim.scenario import json_schema

    print(json.dumps(json_schema(), indent=2, ensure_ascii=False))
    return DONE
