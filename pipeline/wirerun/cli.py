"""Words in, exit code out; nothing else prints. Data goes to stdout, talk to stderr.

Heavy imports wait inside the commands, so that ``wirerun --help`` answers at once.
"""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec

import click
from rich.console import Console
from rich.table import Table

from wirerun.errors import Exit, InputError, WirerunError

if TYPE_CHECKING:
    from wirerun.records import Plan
    from wirerun.run import Progress
    from wirerun.settings import Config

_talk = Console(stderr=True, highlight=False)

P = ParamSpec("P")


def _answers(command: Callable[P, int | None]) -> Callable[P, None]:
    """Turn what a command raises into a sentence and an exit code."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            code = command(*args, **kwargs) or Exit.GOOD
        except InputError as error:
            for fault in error.faults:
                _say(f"error: {fault}")
            _say(f"{len(error.faults)} fault(s); nothing was written.")
            code = error.exit_code
        except WirerunError as error:
            _say(f"error: {error}")
            code = error.exit_code
        except KeyboardInterrupt:
            _say("interrupted; earlier results are as they were.")
            code = Exit.INTERRUPTED
        sys.exit(int(code))

    return run


def _say(text: str) -> None:
    """Say a sentence that may hold words from the user's files: no markup is read in it.

    A terminal gets it wrapped at words; a log gets it on one line.
    """
    _talk.print(text, markup=False, soft_wrap=not _talk.is_terminal)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(version("wirerun"), prog_name="wirerun")
def main() -> None:
    """Plan the trellis wires of a hillside vineyard block."""


@main.command()
@click.argument("config", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Output folder instead of outputs/<name>/.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier result.")
@click.option(
    "--only",
    multiple=True,
    type=click.Choice(["schedule", "gis", "map", "cards"]),
    help="Write this part only; may be given more than once.",
)
@click.option("--formats", metavar="A,B", help="GIS formats beside the GeoPackage, instead of the config's; or 'none'.")
@click.option("--strict", is_flag=True, help="Exit 5 when there are findings of level warning or worse.")
@click.option("--json", "as_json", is_flag=True, help="Print the run record to stdout.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@click.option("--times", is_flag=True, help="Show the seconds of each stage.")
@_answers
def plan(  # noqa: PLR0913 - one argument an option
    config: Path,
    out: Path | None,
    only: tuple[str, ...],
    formats: str | None,
    *,
    overwrite: bool,
    strict: bool,
    as_json: bool,
    quiet: bool,
    times: bool,
) -> int | None:
    """Do the whole job: rows, posts, clips, wires, materials; map, schedule, GIS layers, field sheets."""
    with _progress(quiet=quiet) as progress:
        from wirerun.run import load_config, plan_to_folder  # noqa: PLC0415 - see the module's docstring

        settings = load_config(config)
        if formats is not None:
            settings = _with_formats(settings, formats)
        target = out or Path("outputs") / settings.name
        made = plan_to_folder(settings, target, overwrite=overwrite, only=only, progress=progress())
    if as_json:
        from wirerun.write.record import read_record  # noqa: PLC0415 - see the module's docstring

        click.echo(json.dumps(read_record(target), indent=2))
    if not quiet:
        _summary(made, target, times=times)
    worse = made.findings["level"].isin(["warning", "error"]).any()
    return Exit.FINDINGS if strict and worse else None


@main.command()
@click.argument("config", type=click.Path(path_type=Path))
@_answers
def check(config: Path) -> None:
    """Read and check everything, print every fault at once, write nothing."""
    from wirerun import run  # noqa: PLC0415 - see the module's docstring

    inputs = run.check(run.load_config(config))
    for finding in inputs.findings:
        _say(f"{finding.level}: {finding.place}: {finding.message}")
    _say(f"{len(inputs.blocks)} block(s), their elevation and the config are in order.")


@main.command()
@_answers
def schema() -> None:
    """Print the JSON Schema (draft-07) of the config."""
    from wirerun.write.blank_config import config_schema  # noqa: PLC0415 - see the module's docstring

    click.echo(json.dumps(config_schema(), indent=2))


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@_answers
def init(file: Path) -> None:
    """Write a commented config with every setting, its unit and default."""
    from wirerun.write.blank_config import write_blank_config  # noqa: PLC0415 - see the module's docstring

    write_blank_config(file)
    _say(f"{file} written; fill in the boundary, the raster, the bearing and the spacing.")


@main.command()
@_answers
def doctor() -> int | None:
    """Show versions, data paths and drivers, and what is missing."""
    from wirerun.read.machine import examine  # noqa: PLC0415 - see the module's docstring

    facts, missing = examine()
    for name, fact in facts.items():
        click.echo(f"{name}: {fact}")
    for sentence in missing:
        _say(f"error: {sentence}")
    return Exit.OUR_FAULT if missing else None


def _with_formats(settings: "Config", formats: str) -> "Config":
    """Return the config with other GIS formats."""
    from wirerun.settings.ground import FORMATS  # noqa: PLC0415 - see the module's docstring

    wanted = [] if formats == "none" else [word.strip() for word in formats.split(",")]
    for word in wanted:
        if word not in FORMATS:
            msg = f"{word!r} is none of {', '.join(FORMATS)}"
            raise click.BadParameter(msg, param_hint="--formats")
    output = settings.output.model_copy(update={"formats": tuple(dict.fromkeys(wanted))})
    return settings.model_copy(update={"output": output})


@contextmanager
def _progress(*, quiet: bool) -> "Iterator[Callable[[], Progress]]":
    """Show the stage at work, on a terminal only."""
    with _talk.status("starting") as status:
        if quiet or not _talk.is_terminal:
            status.stop()

        def make() -> "Progress":
            from wirerun.run import Progress  # noqa: PLC0415 - see the module's docstring

            return Progress(tell=status.update)

        yield make


def _summary(made: "Plan", target: Path, *, times: bool) -> None:
    """Say what came out, on lines a person can read at the end of a long day."""
    from wirerun.findings import name_some  # noqa: PLC0415 - see the module's docstring

    rows, posts, missing = made.rows, made.posts, len(made.left_out)
    lack = f"; {missing} row(s) not included" if missing else ""
    two_way = int(rows["two_way_posts"].sum())
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(justify="right")
    table.add_column()
    table.add_row(f"{len(made.blocks)}", f"block(s), {made.blocks['area_ha'].sum():.2f} ha")
    table.add_row(f"{len(rows)}", f"rows, {rows['length_m'].sum():,.0f} m")
    if missing:
        which = name_some(made.left_out["row_id"])
        table.add_row(f"{missing}", f"row(s), {made.left_out['length_m'].sum():,.0f} m, NOT INCLUDED anywhere: {which}")
    table.add_row(f"{len(posts)}", f"posts, {2 * len(rows)} of them end posts{lack}")
    table.add_row(f"{two_way}", f"posts with two-way clips, in {len(made.sections)} undulating sections{lack}")
    for wire in made.config.wires:
        run_out = made.wires.loc[made.wires["wire_id"] == wire.id, "run_out_m"].sum()
        lines = f"({wire.lines} line(s) of {wire.diameter_mm:g} mm)"
        table.add_row(f"{run_out:,.0f}", f"m of wire {wire.id!r} {lines}{lack}")
    if len(made.adjusters):
        needing = made.adjusters["row_id"].nunique()
        words = f"adjusters, in {needing} rows whose wires do not drop by themselves"
        table.add_row(f"{len(made.adjusters)}", f"{words}{lack}")
    for item in made.materials.loc[made.materials["kind"] == "wire"].itertuples():
        table.add_row(
            f"{item.quantity + item.spare_quantity}",
            f"coils of {item.item!r}, {item.spare_quantity} of them spare{lack}",
        )
    if len(made.zones):
        table.add_row(
            f"{made.zones['hours'].sum():,.0f}", f"hours of one person, in {len(made.zones)} work zones{lack}"
        )
    priced = made.costs[made.costs["part"] == "sum"]
    if len(priced) and priced["total"].notna().all():
        table.add_row(f"{priced['total'].sum():,.0f}", f"{made.config.catalogue.currency} for all that is priced{lack}")
    _talk.print(table)
    for finding in made.findings.itertuples():
        _say(f"{finding.level}: {finding.place}: {finding.message}")
    if times:
        whole = sum(made.seconds.values())
        for stage, seconds in made.seconds.items():
            _say(f"{seconds:7.2f} s {100 * seconds / whole:4.0f} %  {stage}")
    shown = [target / name for name in ("map.html", "cards/field_cards.pdf") if (target / name).exists()]
    _say("Look at: " + ", ".join(map(str, shown or [target])))
