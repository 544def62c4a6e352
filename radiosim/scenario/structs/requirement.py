"""The `[[requirement]]` tables."""

from typing import Annotated

from radiosim.scenario.structs.amounts import Table, key


class Requirement(Table, frozen=True, kw_only=True):
    """A figure of the results and its limit; exactly one of the two limits."""

    figure: Annotated[str, key("a path into the results, such as stream.drive.hole_ms")]
    at_least: Annotated[float | None, key("the figure must not be below this")] = None
    at_most: Annotated[float | None, key("the figure must not be above this")] = None
