"""The commands before the first plan: `init`, `schema`, `doctor`."""

import json
from pathlib import Path

import click

from wirerun.cli.talk import answers, say
from wirerun.errors import Exit, printable
from wirerun.wording import many


@click.command(short_help="Print the JSON Schema of the config.")
@answers
def schema() -> None:
    """Print the JSON Schema (draft-07) of the config."""
    from wirerun.write.blank_config import config_schema

    click.echo(json.dumps(config_schema(), indent=2))


@click.command(short_help="Write a commented config to fill in.")
@click.argument("file", type=click.Path(path_type=Path))
@answers
def init(file: Path) -> None:
    """Write a commented config with every setting, its unit and default."""
    from wirerun.write.blank_config import write_blank_config

    write_blank_config(file)
    say(f"{file} written; fill in the boundary, the raster, the bearing and the spacing.")


@click.command(short_help="Say whether this machine has what it takes.")
@answers
def doctor() -> int | None:
    """Show versions, data paths and drivers, what is missing, and whether this machine can plan."""
    from wirerun.read.machine import examine

    facts, missing = examine()
    for name, fact in facts.items():
        click.echo(printable(f"{name}: {fact}"))
    for sentence in missing:
        say(f"error: {sentence}")
    if missing:
        say(f"{many(len(missing), 'thing', 'are')} missing: plans may fail until that is mended.")
        return Exit.OUR_FAULT
    say("Nothing is missing: this machine can plan.")
    return None
