"""The commands that plan: `plan`, `estate`, `check`."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirerun.cli.talk import answers, record_of, say, say_each, say_findings, say_missing, showing_progress
from wirerun.errors import Exit
from wirerun.wording import many

if TYPE_CHECKING:
    from wirerun.settings import Config


@click.command(short_help="Do the whole job: map, schedule, layers, field sheets.")
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
@answers
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
    with showing_progress(quiet=quiet) as progress:
        from wirerun.api import load_config, plan_to_folder

        settings = load_config(config)
        if formats is not None:
            settings = _with_formats(settings, formats)
        target = out or Path("outputs") / settings.name
        made = plan_to_folder(settings, target, overwrite=overwrite, only=only, progress=progress())
    if as_json:
        click.echo(record_of(target))
    if not quiet:
        from wirerun.cli.summary import say_summary

        say_summary(made, target, times=times)
        for learned in made.measured:
            say(f"measured: {learned.sentence}")
    if made.missing:
        return say_missing(made.missing)
    worse = made.findings["level"].isin(["warning", "error"]).any()
    return Exit.FINDINGS if strict and worse else None


def _with_formats(settings: "Config", formats: str) -> "Config":
    """Return the config with other GIS formats."""
    from wirerun.settings.ground import FORMATS

    wanted = [] if formats == "none" else [word.strip() for word in formats.split(",")]
    for word in wanted:
        if word not in FORMATS:
            msg = f"{word!r} is none of {', '.join(FORMATS)}"
            raise click.BadParameter(msg, param_hint="--formats")
    output = settings.output.model_copy(update={"formats": tuple(dict.fromkeys(wanted))})
    return settings.model_copy(update={"output": output})


@click.command(short_help="Plan many blocks, each in a folder of its own.")
@click.argument("config", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder of the estate instead of outputs/<name>/.")
@click.option("--blocks", metavar="A,B", help="Plan these blocks only; what stands of the others stays.")
@click.option("--changed", is_flag=True, help="Plan only what is missing or was made from something else.")
@click.option("--overwrite", is_flag=True, help="Plan everything anew over what stands there.")
@click.option("--workers", type=click.IntRange(1, 64), default=1, show_default=True, help="Processes that plan blocks.")
@click.option("--scheduler", metavar="ADDRESS", default="", help="Plan on the workers of this dask scheduler instead.")
@click.option("--cards", is_flag=True, help="Write field sheets, too.")
@click.option("--strict", is_flag=True, help="Exit 5 when there are findings of level warning or worse.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@answers
def estate(  # noqa: PLR0913 - one argument an option
    config: Path,
    out: Path | None,
    blocks: str | None,
    workers: int,
    scheduler: str,
    *,
    changed: bool,
    overwrite: bool,
    cards: bool,
    strict: bool,
    quiet: bool,
) -> int | None:
    """Plan many blocks, each into a folder of its own, and roll up what they come to together.

    A block's fault costs that block alone. With --changed a run goes on where an earlier one ended.
    """
    from wirerun import api
    from wirerun.write.estate import ROLL_UP
    from wirerun.write.estate.tables import findings_of

    settings = api.load_config(config)
    target = out or Path("outputs") / settings.name
    made = api.plan_estate(
        settings,
        target,
        ("gis", "map", *(["cards"] if cards else [])),
        blocks=[word.strip() for word in blocks.split(",")] if blocks else (),
        changed=changed,
        overwrite=overwrite,
        workers=scheduler or workers,
        tell=(lambda *_: None) if quiet else _say_done,
    )
    found = findings_of(target / ROLL_UP / "schedule")
    if not quiet:
        say_findings(found, target / ROLL_UP / "schedule" / "findings.csv")
        from wirerun.cli.summary import say_phases

        say_phases(made.phases, settings.catalogue.currency)
        say(f"Look at: {target / ROLL_UP / 'map.html'}")
    if made.missing:
        return say_missing(made.missing)
    return Exit.FINDINGS if strict and any(level != "note" for level, *_ in found) else None


def _say_done(block_id: str, state: str, done: int, of: int, seconds_left: float) -> None:
    """Say what became of a block of an estate, and how long the others take if they go on like this."""
    left = f", about {many(max(1, round(seconds_left / 60.0)), 'minute')} left" if done < of else ""
    say(f"{done} of {of}: block {block_id} {state}{left}")


@click.command(short_help="Read and check everything; write nothing.")
@click.argument("config", type=click.Path(path_type=Path))
@answers
def check(config: Path) -> int | None:
    """Read and check everything, print every fault at once, write nothing."""
    from wirerun import api

    inputs = api.check(api.load_config(config))
    say_each(inputs.findings)
    code = say_missing(inputs.missing)
    blocks, doubts = many(len(inputs.blocks), "block"), sum(one.level != "note" for one in inputs.findings)
    if doubts:
        say(f"{blocks} can be planned, but see to {many(doubts, 'warning')} above first.")
    else:
        say(f"{blocks}, the elevation there and the config are in order.")
    if inputs.missing:
        say(f"{many(len(inputs.missing), 'block', 'are')} not; a plan leaves out what is not in order.")
    return code
