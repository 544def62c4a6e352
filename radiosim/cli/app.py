"""The commands of `radiosim`."""

from radiosim.cli import layout
from radiosim.cli.bench_logs import FitOptions, ProbeOptions, fit, probe
from radiosim.cli.firmware import FirmwareOptions, firmware
from radiosim.cli.group import group_of, program
from radiosim.cli.harness import add_command
from radiosim.cli.live import LiveOptions, live
from radiosim.cli.lookup import (
    GlossaryOptions,
    ScenariosOptions,
    SchemaOptions,
    ValidateOptions,
    glossary,
    scenarios,
    schema,
    validate,
)
from radiosim.cli.new import NewOptions, new
from radiosim.cli.run import RunOptions, run
from radiosim.cli.studies import (
    BenchTestOptions,
    ChannelsOptions,
    FailsafeOptions,
    RangeOptions,
    TuneOptions,
    bench_test,
    channels,
    failsafe,
    reach,
    tune,
)

app = program()
add_command(app, NewOptions, new)
add_command(app, RunOptions, run)
add_command(app, LiveOptions, live)
add_command(app, ScenariosOptions, scenarios)
add_command(app, ValidateOptions, validate)
add_command(app, GlossaryOptions, glossary)
add_command(app, SchemaOptions, schema)
add_command(app, ChannelsOptions, channels)
add_command(app, FailsafeOptions, failsafe)
add_command(app, TuneOptions, tune)
add_command(app, BenchTestOptions, bench_test)
add_command(app, RangeOptions, reach)
add_command(app, FirmwareOptions, firmware)
add_command(app, ProbeOptions, probe)
add_command(app, FitOptions, fit)
_layouts = group_of("Show, check and compare what is inside a frame.")
add_command(_layouts, layout.ShowOptions, layout.show)
add_command(_layouts, layout.CheckOptions, layout.check)
add_command(_layouts, layout.CompareOptions, layout.compare)
add_command(_layouts, layout.EmitOptions, layout.emit)
app.add_typer(_layouts, name="layout")
