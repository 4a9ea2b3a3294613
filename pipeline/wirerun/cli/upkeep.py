"""The commands for a vineyard that stands: `repair`, `measured`."""

from pathlib import Path

import click

from wirerun.cli.talk import answers, showing_progress


@click.command(short_help="Say how to mend or tighten the wires of a row.")
@click.argument("config", type=click.Path(path_type=Path))
@click.argument("row")
@click.option("--wire", metavar="ID", help="Which wire; without it all wires of the row are told, to be tightened.")
@click.option("--at", metavar="PLACE", help="Where it broke: a post (P017), or a span (S017, behind post 17).")
@click.option(
    "--temperature", "celsius", type=click.FloatRange(-60.0, 90.0), help="Temperature of the wire now [degree C]."
)
@click.option(
    "--missing-m",
    type=click.FloatRange(0.0, 100.0),
    default=0.0,
    help="Wire that is missing or spoilt, beside what is cut back [m].",
)
@click.option("--reads", "gauge_n", type=click.FloatRange(0.0, 10_000.0), help="What the gauge reads now, mid-row [N].")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON, metric.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@answers
def repair(  # noqa: PLR0913 - one argument an option
    config: Path,
    row: str,
    wire: str | None,
    at: str | None,
    celsius: float | None,
    missing_m: float,
    gauge_n: float | None,
    *,
    as_json: bool,
    quiet: bool,
) -> None:
    """Say how to mend a broken wire, or tighten a slack one: what to cut, join, strain and read on the day.

    ROW is an id such as B01-R012; its number will do where there is one block. Only its block is planned, nothing is
    written.
    """
    with showing_progress(quiet=quiet) as progress:
        from wirerun import api
        from wirerun.repair import Question
        from wirerun.write.repair_words import repair_json, repair_words

        settings = api.load_config(config)
        question = Question(row, wire, at, celsius, missing_m, gauge_n)
        done = api.repair(settings, question, progress())
    click.echo(repair_json(done) if as_json else repair_words(done, settings.output.units))


@click.command(short_help="Say what measurements tell, and what the order changes by.")
@click.argument("config", type=click.Path(path_type=Path))
@click.option("--quick", is_flag=True, help="Tell the values only; plan once.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@answers
def measured(config: Path, *, quick: bool, as_json: bool, quiet: bool) -> None:
    """Say what the files of the config's [measured] tell, and what the order changes by: for each, and for all.

    Plans without any, with each alone, and with all of them; nothing is written. `plan` takes them, too.
    """
    with showing_progress(quiet=quiet) as progress:
        from wirerun import api
        from wirerun.write.measured_words import measured_json, measured_words

        found = api.measured(api.load_config(config), progress(), quick=quick)
    click.echo(measured_json(found) if as_json else measured_words(found))
