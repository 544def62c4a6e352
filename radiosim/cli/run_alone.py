"""`radiosim run` without the other commands, which take as long to load as it does."""

from radiosim.cli.group import program
from radiosim.cli.harness import add_command
from radiosim.cli.run import RunOptions, run

app = program()
add_command(app, RunOptions, run)
