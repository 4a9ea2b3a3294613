"""The commands that set plans side by side: `compare`, `study`."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirerun.cli.talk import answers, record_of, say, showing_progress
from wirerun.errors import Exit
from wirerun.wording import many

if TYPE_CHECKING:
    from wirerun.read.height_unit import Unit


@click.command(short_help="Say what differs between finished plans.")
@click.argument("plans", nargs=-1, type=click.Path(path_type=Path), metavar="A B [C ...]")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for page and tables instead of outputs/compare-A-B/."
)
@click.option("--strict", is_flag=True, help="Exit 5 when plans are not the same, or posts stand otherwise.")
@click.option("--json", "as_json", is_flag=True, help="Print the record of the comparison to stdout instead of words.")
@click.option("--crs", help="As built: CRS of a CSV of posts with E, N columns, such as EPSG:25829.")
@click.option(
    "--height-unit", type=click.Choice(["m", "ft", "us-ft", "ind-ft"]), help="As built: unit of the surveyed heights."
)
@click.option(
    "--within",
    type=click.FloatRange(0.0, 20.0, min_open=True),
    help="As built: how far off a post may stand [m].",
)
@answers
def compare(
    plans: tuple[Path, ...],
    out: Path | None,
    crs: str | None,
    height_unit: "Unit | None",
    within: float | None,
    *,
    strict: bool,
    as_json: bool,
) -> int | None:
    """Say what differs between finished plans, by id and in total: A against B, and against C ...

    Where B is a file of surveyed posts, say how they stand to the planned ones. Writes a page with a map, and tables,
    into a folder; an earlier comparison there is replaced.
    """
    from wirerun import api
    from wirerun.compare import MOST_PLANS
    from wirerun.read.points import Stated
    from wirerun.write.as_built import as_built_words, write_as_built
    from wirerun.write.comparison import check_comparison_target, write_comparison
    from wirerun.write.comparison_words import comparison_words

    if not 2 <= len(plans) <= MOST_PLANS:
        msg = f"{many(len(plans), 'folder')} given; 2 to {MOST_PLANS} finished plans can be compared"
        raise click.UsageError(msg)
    target = out or Path("outputs") / "-".join(["compare", *(plan.resolve().stem for plan in plans)])
    check_comparison_target(target)
    if len(plans) == 2 and plans[1].is_file():
        built = api.as_built(*plans, Stated(crs, height_unit, "--crs"), within)
        write_as_built(built, target)
        words, equal = as_built_words(built), built.as_planned
    else:
        made = api.compare(plans)
        write_comparison(made, target)
        words, equal = comparison_words(made), made.equal
    click.echo(record_of(target) if as_json else words)
    say(f"Look at: {target / 'compare.html'}")
    return Exit.FINDINGS if strict and not equal else None


@click.command(short_help="Try directions of rows and say what each comes to.")
@click.argument("config", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Output folder instead of outputs/<name>-study/.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier study.")
@click.option(
    "--whole",
    type=click.Choice(["all", "allowed", "none"]),
    help="Which cases to plan whole, instead of the config's choice: only these have two-way clips, hours and cost.",
)
@click.option("--workers", type=click.IntRange(1, 256), help="Processes side by side.  [default: one a processor]")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@answers
def study(
    config: Path, out: Path | None, whole: str | None, workers: int | None, *, overwrite: bool, quiet: bool
) -> None:
    """Try directions of rows, or whatever the config's [study] varies, and say what each comes to."""
    with showing_progress(quiet=quiet) as progress:
        from wirerun import api
        from wirerun.write.folder import check_target
        from wirerun.write.study import write_study
        from wirerun.write.study_words import study_words

        settings = api.load_config(config)
        if whole is not None:
            settings = settings.model_copy(update={"study": settings.study.model_copy(update={"whole": whole})})
        target = out or Path("outputs") / f"{settings.name}-study"
        check_target(target, overwrite=overwrite)
        made = api.study(settings, workers=workers or os.cpu_count() or 1, progress=progress())
        write_study(made, target, overwrite=overwrite)
    click.echo(study_words(made))
    if not quiet:
        say(f"Look at: {target / 'study.html'}")
