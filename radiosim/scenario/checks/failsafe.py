"""The failsafe tables."""

from collections.abc import Iterator

from radiosim.scenario.checks.references import unknown
from radiosim.scenario.checks.view import Found, View


def problems(view: View) -> Iterator[Found]:
    """Streams and fields that are not there."""
    for stream, failsafe in view.file.failsafe.items():
        path = ("failsafe", stream)
        yield from unknown(path, "the name of a transmitter", stream, view.file.transmitter)
        fields = view.fields(stream)
        if fields is None:
            continue
        noun = f"a field of transmitter.{stream}"
        if failsafe.watch_field:
            yield from unknown((*path, "watch_field"), noun, failsafe.watch_field, fields)
        if failsafe.resume_needs is not None:
            where = (*path, "resume_needs", "field")
            yield from unknown(where, noun, failsafe.resume_needs.field, fields)
