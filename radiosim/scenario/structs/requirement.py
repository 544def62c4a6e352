"""The `[[requirement]]` tables."""

from typing import Annotated

from radiosim.described import key
from radiosim.scenario.structs.amounts import Table


class Requirement(Table, frozen=True, kw_only=True):
    """A figure of the results and its limit; exactly one of the two limits."""

    figure: Annotated[
        str,
        key(
            "a path into the results, such as stream.drive.gap_ms.max",
            moves=(),
            measure="choose it: radiosim glossary lists the figures",
        ),
    ]
    at_least: Annotated[
        float | None,
        key(
            "the figure must not be below this",
            moves=(),
            measure="choose it: what the vehicle needs, before you look at the result",
        ),
    ] = None
    at_most: Annotated[
        float | None,
        key(
            "the figure must not be above this",
            moves=(),
            measure="choose it: what the vehicle can bear, before you look at the result",
        ),
    ] = None
