"""The command `radiosim`."""

import sys

from radiosim.cli.ending import expect_interrupts, open_standard_streams, stopped


def main() -> None:
    """Run the command that the arguments name; ends the program."""
    try:
        expect_interrupts()
        open_standard_streams()
        # Loaded here, so that Ctrl-C while it loads ends in one line too.
        from radiosim.cli.app import app

        app()
    except KeyboardInterrupt:
        sys.exit(stopped())
