"""Checks of the receiver's own program: which sources run where, and what a chip needs."""

from collections.abc import Iterator

from radiosim.scenario.checks.view import Found, View

IMAGE = ".elf"
SOURCES = (".c", ".cpp", ".cc", ".cxx")
_PATH = ("receiver", "program")


def program_problems(view: View) -> Iterator[Found]:
    """Sources that do not run where they should, and pins without a chip or a chip without."""
    program = view.file.receiver.program
    if program is None:
        return
    is_chip = program.on == "chip"
    allowed = (IMAGE,) if is_chip else SOURCES
    for number, source in enumerate(program.sources):
        if not source.lower().endswith(allowed):
            text = (
                f"must end with {', '.join(allowed)} on {program.on}, got {source.split('/')[-1]!r}"
            )
            yield (*_PATH, "sources", number), text
    if is_chip and len(program.sources) > 1:
        yield (*_PATH, "sources"), "must be one image on chip"
    if is_chip and program.pins is None:
        text = "must be given on chip, such as mhz=16,select=B2,enable=B1,motor=D3"
        yield (*_PATH, "pins"), text
    if not is_chip and program.pins is not None:
        yield (*_PATH, "pins"), "must be left out but on chip"
