"""The command that makes ground and rows of a drone survey: `survey`."""

from pathlib import Path

import click

from wirerun.cli.talk import answers, say, say_each, showing_progress


@click.command(short_help="Find ground and rows in a drone survey.")
@click.argument("config", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Output folder instead of outputs/<name>-survey/.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier result.")
@click.option("--json", "as_json", is_flag=True, help="Print survey.json to stdout.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@answers
def survey(config: Path, out: Path | None, *, overwrite: bool, as_json: bool, quiet: bool) -> None:
    """From a surface with vines in it to ground and rows, how good they are, and a config to plan with."""
    with showing_progress(quiet=quiet) as progress:
        from wirerun.api import survey_file

        made, target = survey_file(config, out, overwrite=overwrite, progress=progress())
    if as_json:
        from wirerun.write.survey.report import report_text

        click.echo(report_text(made), nl=False)
    if not quiet:
        say_each(made.findings)
        say(f"Look at: {target / 'review.html'}")
        if len(made.rows):
            plan = target / "plan.toml"
            if made.asks_for_ground:
                say(f"Missing: the ground; name a raster of it under [elevation] in {plan}")
            say(f"Then: wirerun plan {plan}")
