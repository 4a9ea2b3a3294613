"""Words in, exit code out; nothing else prints. Data goes to stdout, talk to stderr.

A module for each group of commands. Heavy imports wait inside the commands, so that ``wirerun --help`` answers at once.
"""

import click

from wirerun.cli.choosing import compare, study
from wirerun.cli.planning import check, estate, plan
from wirerun.cli.setting_up import doctor, init, schema
from wirerun.cli.surveying import survey
from wirerun.cli.upkeep import measured, repair


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="wirerun", prog_name="wirerun")
def main() -> None:
    """Plan the trellis wires of a hillside vineyard block."""


for command in (plan, estate, check, compare, study, survey, repair, measured, schema, init, doctor):
    main.add_command(command)
