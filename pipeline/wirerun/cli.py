"""Words in, exit code out; nothing else prints. Data goes to stdout, talk to stderr.

Heavy imports wait inside the commands, so that ``wirerun --help`` answers at once.
"""

import json
import os
import sys
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import wraps
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec

import click
from rich.console import Console
from rich.table import Table

from wirerun.errors import MOST_TOLD, Exit, InputError, WirerunError, printable, told, worst
from wirerun.findings import name_some
from wirerun.missing import MissingBlock, what_failed
from wirerun.progress import Progress
from wirerun.units import Measure, Units, units_of
from wirerun.wording import many, number, plural

if TYPE_CHECKING:
    from pandas import DataFrame

    from wirerun.read.height_unit import Unit
    from wirerun.records import Plan
    from wirerun.settings import Config

# No markup: names from the user's files may hold square brackets.
_talk = Console(stderr=True, highlight=False, markup=False)

# Warnings of one kind that are told in full: choice.
_MOST_OF_A_KIND = 3

P = ParamSpec("P")


def _answers(command: Callable[P, int | None]) -> Callable[P, None]:
    """Turn what a command raises into a sentence and an exit code."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            code = command(*args, **kwargs) or Exit.GOOD
        except InputError as error:
            for sentence in told(error.faults):
                _say(f"error: {sentence}")
            _say(f"{many(len(error.faults), 'fault')}; nothing was written.")
            code = error.exit_code
            if code == Exit.OUR_FAULT:
                _keep(traceback.format_exc())
        except WirerunError as error:
            _say(f"error: {error}")
            code = error.exit_code
        except KeyboardInterrupt:
            _say("interrupted; earlier results are as they were.")
            code = Exit.INTERRUPTED
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise  # the library's own ways to end
        except MemoryError:
            _say(f"error: {what_failed(MemoryError())}.")
            code = Exit.OUR_FAULT
        except Exception as error:  # noqa: BLE001 - the last catch: a person never sees a traceback
            _say(f"error: {what_failed(error)}.")
            _keep(traceback.format_exc())
            code = Exit.OUR_FAULT
        sys.exit(int(code))

    return run


def _say(text: str) -> None:
    """Say a sentence that may hold words from the user's files: no markup is read in it, no control character obeyed.

    A terminal gets it wrapped at words; a log gets it on one line.
    """
    _talk.print(printable(text), soft_wrap=not _talk.is_terminal)


def _keep(text: str) -> None:
    """Keep a traceback in a file and say where."""
    from wirerun.write.traceback_file import keep_traceback  # noqa: PLC0415 - see the module's docstring

    try:
        _say(f"What Python says of it is kept in {keep_traceback(text)}: please send that file with a report.")
    except OSError as error:
        _say(f"What Python says of it could not be kept: {error.strerror}.")


def _say_missing(missing: Iterable[MissingBlock]) -> Exit:
    """Name the blocks that are not in the plan, each with the reason, and return whose fault it is."""
    blocks = list(missing)
    for block in blocks[:MOST_TOLD]:
        _say(f"error: block {block.block_id} is not planned: {block.reason}")
    if len(blocks) > MOST_TOLD:
        _say(f"error: and {len(blocks) - MOST_TOLD} more blocks are not planned")
    tracebacks = [f"block {block.block_id}\n{block.traceback}" for block in blocks if block.traceback]
    if tracebacks:
        _keep("\n".join(tracebacks))
    return worst(block.exit_code for block in blocks)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(version("wirerun"), prog_name="wirerun")
def main() -> None:
    """Plan the trellis wires of a hillside vineyard block."""


@main.command(short_help="Do the whole job: map, schedule, layers, field sheets.")
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
        from wirerun.api import load_config, plan_to_folder  # noqa: PLC0415 - see the module's docstring

        settings = load_config(config)
        if formats is not None:
            settings = _with_formats(settings, formats)
        target = out or Path("outputs") / settings.name
        made = plan_to_folder(settings, target, overwrite=overwrite, only=only, progress=progress())
    if as_json:
        click.echo(_record_of(target))
    if not quiet:
        _summary(made, target, times=times)
    if made.missing:
        return _say_missing(made.missing)
    worse = made.findings["level"].isin(["warning", "error"]).any()
    return Exit.FINDINGS if strict and worse else None


@main.command(short_help="Plan many blocks, each in a folder of its own.")
@click.argument("config", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder of the estate instead of outputs/<name>/.")
@click.option("--blocks", metavar="A,B", help="Plan these blocks only; what stands of the others stays.")
@click.option("--changed", is_flag=True, help="Plan only what is missing or was made from something else.")
@click.option("--overwrite", is_flag=True, help="Plan everything anew over what stands there.")
@click.option("--workers", type=click.IntRange(1, 64), default=1, show_default=True, help="Processes that plan blocks.")
@click.option("--cards", is_flag=True, help="Write field sheets, too.")
@click.option("--strict", is_flag=True, help="Exit 5 when there are findings of level warning or worse.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@_answers
def estate(  # noqa: PLR0913 - one argument an option
    config: Path,
    out: Path | None,
    blocks: str | None,
    workers: int,
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
    from wirerun import api  # noqa: PLC0415 - see the module's docstring
    from wirerun.write.estate import ROLL_UP  # noqa: PLC0415
    from wirerun.write.estate.tables import findings_of  # noqa: PLC0415

    settings = api.load_config(config)
    target = out or Path("outputs") / settings.name
    made = api.plan_estate(
        settings,
        target,
        ("gis", "map", *(["cards"] if cards else [])),
        blocks=[word.strip() for word in blocks.split(",")] if blocks else (),
        changed=changed,
        overwrite=overwrite,
        workers=workers,
        tell=(lambda *_: None) if quiet else _say_done,
    )
    found = findings_of(target / ROLL_UP / "schedule")
    if not quiet:
        _findings(found, target / ROLL_UP / "schedule" / "findings.csv")
        _say(f"Look at: {target / ROLL_UP / 'map.html'}")
    if made.missing:
        return _say_missing(made.missing)
    return Exit.FINDINGS if strict and any(level != "note" for level, *_ in found) else None


def _say_done(block_id: str, state: str, done: int, of: int, seconds_left: float) -> None:
    """Say what became of a block of an estate, and how long the others take if they go on like this."""
    left = f", about {many(max(1, round(seconds_left / 60.0)), 'minute')} left" if done < of else ""
    _say(f"{done} of {of}: block {block_id} {state}{left}")


@main.command(short_help="Read and check everything; write nothing.")
@click.argument("config", type=click.Path(path_type=Path))
@_answers
def check(config: Path) -> int | None:
    """Read and check everything, print every fault at once, write nothing."""
    from wirerun import api  # noqa: PLC0415 - see the module's docstring

    inputs = api.check(api.load_config(config))
    for finding in inputs.findings:
        _say(f"{finding.level}: {finding.place}: {finding.message}")
    code = _say_missing(inputs.missing)
    blocks, doubts = many(len(inputs.blocks), "block"), sum(one.level != "note" for one in inputs.findings)
    if doubts:
        _say(f"{blocks} can be planned, but see to {many(doubts, 'warning')} above first.")
    else:
        _say(f"{blocks}, the elevation there and the config are in order.")
    if inputs.missing:
        _say(f"{many(len(inputs.missing), 'block', 'are')} not; a plan leaves out what is not in order.")
    return code


@main.command(short_help="Say what differs between finished plans.")
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
@_answers
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
    from wirerun import api  # noqa: PLC0415 - see the module's docstring
    from wirerun.compare import MOST_PLANS  # noqa: PLC0415
    from wirerun.read.points import Stated  # noqa: PLC0415
    from wirerun.write.as_built import as_built_words, write_as_built  # noqa: PLC0415
    from wirerun.write.comparison import check_comparison_target, write_comparison  # noqa: PLC0415
    from wirerun.write.comparison_words import comparison_words  # noqa: PLC0415

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
    click.echo(_record_of(target) if as_json else words)
    _say(f"Look at: {target / 'compare.html'}")
    return Exit.FINDINGS if strict and not equal else None


@main.command(short_help="Try directions of rows and say what each comes to.")
@click.argument("config", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Output folder instead of outputs/<name>-study/.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier study.")
@click.option(
    "--whole", type=click.Choice(["all", "allowed", "none"]), help="Which cases to plan whole, instead of the config's."
)
@click.option("--workers", type=click.IntRange(1, 256), help="Processes side by side.  [default: one a processor]")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@_answers
def study(
    config: Path, out: Path | None, whole: str | None, workers: int | None, *, overwrite: bool, quiet: bool
) -> None:
    """Try directions of rows, or whatever the config's [study] varies, and say what each comes to."""
    with _progress(quiet=quiet) as progress:
        from wirerun import api  # noqa: PLC0415 - see the module's docstring
        from wirerun.write.folder import check_target  # noqa: PLC0415
        from wirerun.write.study import write_study  # noqa: PLC0415
        from wirerun.write.study_words import study_words  # noqa: PLC0415

        settings = api.load_config(config)
        if whole is not None:
            settings = settings.model_copy(update={"study": settings.study.model_copy(update={"whole": whole})})
        target = out or Path("outputs") / f"{settings.name}-study"
        check_target(target, overwrite=overwrite)
        made = api.study(settings, workers=workers or os.cpu_count() or 1, progress=progress())
        write_study(made, target, overwrite=overwrite)
    click.echo(study_words(made))
    if not quiet:
        _say(f"Look at: {target / 'study.html'}")


@main.command(short_help="Find ground and rows in a drone survey.")
@click.argument("config", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Output folder instead of outputs/<name>-survey/.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier result.")
@click.option("--json", "as_json", is_flag=True, help="Print survey.json to stdout.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
@_answers
def survey(config: Path, out: Path | None, *, overwrite: bool, as_json: bool, quiet: bool) -> None:
    """From a surface with vines in it to ground and rows, how good they are, and a config to plan with."""
    with _progress(quiet=quiet) as progress:
        from wirerun.api import survey_file  # noqa: PLC0415 - see the module's docstring

        made, target = survey_file(config, out, overwrite=overwrite, progress=progress())
    if as_json:
        from wirerun.write.survey.report import report_text  # noqa: PLC0415 - see the module's docstring

        click.echo(report_text(made), nl=False)
    if not quiet:
        for finding in made.findings:
            _say(f"{finding.level}: {finding.place}: {finding.message}")
        _say(f"Look at: {target / 'review.html'}")
        if len(made.rows):
            _say(f"Then: wirerun plan {target / 'plan.toml'}")


@main.command(short_help="Print the JSON Schema of the config.")
@_answers
def schema() -> None:
    """Print the JSON Schema (draft-07) of the config."""
    from wirerun.write.blank_config import config_schema  # noqa: PLC0415 - see the module's docstring

    click.echo(json.dumps(config_schema(), indent=2))


@main.command(short_help="Write a commented config to fill in.")
@click.argument("file", type=click.Path(path_type=Path))
@_answers
def init(file: Path) -> None:
    """Write a commented config with every setting, its unit and default."""
    from wirerun.write.blank_config import write_blank_config  # noqa: PLC0415 - see the module's docstring

    write_blank_config(file)
    _say(f"{file} written; fill in the boundary, the raster, the bearing and the spacing.")


@main.command(short_help="Say whether this machine has what it takes.")
@_answers
def doctor() -> int | None:
    """Show versions, data paths and drivers, what is missing, and whether this machine can plan."""
    from wirerun.read.machine import examine  # noqa: PLC0415 - see the module's docstring

    facts, missing = examine()
    for name, fact in facts.items():
        click.echo(printable(f"{name}: {fact}"))
    for sentence in missing:
        _say(f"error: {sentence}")
    if missing:
        _say(f"{many(len(missing), 'thing', 'are')} missing: plans may fail until that is mended.")
        return Exit.OUR_FAULT
    _say("Nothing is missing: this machine can plan.")
    return None


def _record_of(target: Path) -> str:
    """Return the record of a result, as JSON."""
    from wirerun.write.record import read_record  # noqa: PLC0415 - see the module's docstring

    return json.dumps(read_record(target), indent=2)


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
def _progress(*, quiet: bool) -> Iterator[Callable[[], Progress]]:
    """Show the stage at work, on a terminal only."""
    with _talk.status("starting") as status:
        if quiet or not _talk.is_terminal:
            status.stop()

        def make() -> Progress:
            return Progress(tell=status.update)

        yield make


def _summary(made: "Plan", target: Path, *, times: bool) -> None:
    """Say what came out, on lines a person can read at the end of a long day."""
    from wirerun.findings import name_some  # noqa: PLC0415 - see the module's docstring

    rows, posts, missing = made.rows, made.posts, len(made.left_out)
    units = units_of(made.config.output.units)
    long, area = units.far, units.area
    lack = f"; {many(missing, 'row')} not included" if missing else ""
    two_way = int(rows["two_way_posts"].sum())
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(justify="right")
    table.add_column()
    blocks = f"{plural(len(made.blocks), 'block')}, {area(made.blocks['area_ha'].sum())}"
    if made.missing:
        do = "is" if len(made.missing) == 1 else "are"
        blocks += f"; {len(made.missing)} more {do} NOT in this plan, nor in any number below"
    table.add_row(f"{len(made.blocks)}", blocks)
    table.add_row(number(len(rows)), f"{plural(len(rows), 'row')}, {_long(rows, long)}")
    if missing:
        which = name_some(made.left_out["row_id"])
        words = f"{plural(missing, 'row')}, {_long(made.left_out, long)}, NOT INCLUDED anywhere: {which}"
        table.add_row(number(missing), words)
    table.add_row(number(len(posts)), f"posts, {number(2 * len(rows))} of them end posts{lack}")
    sections = many(len(made.sections), "undulating section")
    table.add_row(number(two_way), f"{plural(two_way, 'post')} with two-way clips, in {sections}{lack}")
    if "clips-untested" in set(made.findings["code"]):
        by_pull = made.hold_down_options.groupby("hold_down_n")["two_way_posts"].sum()
        counts = ", ".join(f"{number(posts)} at {pull:g} N" for pull, posts in by_pull.items())
        table.add_row("", f"by what one-way clips hold: {counts}{lack}")
    for words, run_out in _wires(made, units):
        table.add_row(number(run_out / long.metric), f"{words}{lack}")
    if len(made.adjusters):
        needing = made.adjusters["row_id"].nunique()
        words = f"{plural(len(made.adjusters), 'adjuster')}, in {many(needing, 'row')}, to let wires down or lift them"
        table.add_row(number(len(made.adjusters)), f"{words}{lack}")
    for item in made.materials.loc[made.materials["kind"] == "wire"].itertuples():
        coils = printable(f"coils of {item.item!r}, {item.spare_quantity} of them spare")
        table.add_row(number(item.quantity + item.spare_quantity), f"{coils}{lack}")
    if len(made.zones):
        zones = many(len(made.zones), "work zone")
        table.add_row(number(made.zones["hours"].sum()), f"hours of one person, in {zones}{lack}")
    for words, much in _costs(made):
        table.add_row(number(much), f"{words}{lack}")
    _talk.print(table)
    others = made.findings.loc[made.findings["code"] != "block-missing", ["level", "code", "place", "message"]]
    _findings(others.itertuples(index=False, name=None), target / "schedule" / "findings.csv")
    if times:
        whole = sum(made.seconds.values())
        for stage, seconds in made.seconds.items():
            _say(f"{seconds:7.2f} s {100 * seconds / whole:4.0f} %  {stage}")
    shown = [
        target / name
        for name in ("map.html", "cards/field_cards.pdf", "schedule/order.xlsx")
        if (target / name).exists()
    ]
    _say("Look at: " + ", ".join(map(str, shown or [target])))


def _findings(findings: Iterable[tuple[str, str, str, str]], full: Path) -> None:
    """Say what was noticed, by kind: some warnings of each in full, of notes how many; the rest is in a file."""
    from wirerun.findings import by_code  # noqa: PLC0415 - see the module's docstring

    kinds = by_code(findings)
    table = Table(box=None, show_header=False, pad_edge=False)
    for justify in ("right", "left", "left"):
        table.add_column(justify=justify)
    for kind in kinds:
        if kind.level == "note":
            table.add_row(number(len(kind.sentences)), kind.code, kind.meaning)
            continue
        for sentence in kind.some(_MOST_OF_A_KIND):
            _say(f"{kind.level}: {sentence}")
    if table.row_count:
        _say("Notes by kind:")
        _talk.print(table)
    if kinds and full.exists():
        _say(f"{many(sum(len(kind.sentences) for kind in kinds), 'finding')} in full: {full}")


def _costs(made: "Plan") -> Iterator[tuple[str, float]]:
    """Go through the costs, of all and by block, and the yearly hours: in words, and how much."""
    currency = made.config.catalogue.currency
    yield from ((f"{currency} for all that is priced", one.total) for one in _sums(made.costs))
    if 1 < len(made.blocks) <= MOST_TOLD:
        for one in _sums(made.block_costs):
            of_block = isinstance(one.block_id, str)
            whose = f"block {one.block_id}" if of_block else "no block: spares, what is left of packs, tools"
            yield printable(f"{currency} of that for {whose}"), one.total
    years = made.season["hours_a_year"]
    if len(years) and years.notna().all():
        lifts = many(made.config.work.lifts_per_year, "lift")
        yield f"hours a year to move the foliage wires: {lifts}, let down once", years.sum()


def _sums(costs: "DataFrame") -> Iterator[Any]:
    """Go through the sums of a table of costs."""
    sums = costs[(costs["part"] == "sum") & costs["total"].notna()]
    yield from sums.itertuples()


def _long(rows: "DataFrame", measure: Measure) -> str:
    """Return the length of rows in all."""
    return f"{number(rows['length_m'].sum() / measure.metric)} {measure.sign}"


def _wires(made: "Plan", units: Units) -> Iterator[tuple[str, float]]:
    """Go through the wires of all blocks: what each is in words, and the metres to run out."""
    wires = made.wires_of_blocks()
    for one in wires:
        wire = one.wire
        run_out = made.lines_of(made.wires, one)["run_out_m"].sum()
        twice = sum(other.wire_id == one.wire_id for other in wires) > 1
        where = f" at {units.height(wire.height_m)} in {name_some(one.block_ids)}" if twice else ""
        lines = f"{many(wire.lines, 'line')} of {units.thick(wire.diameter_mm)}"
        yield f"{units.far.sign} of wire {wire.id!r}{where} ({lines})", float(run_out)
