"""What a plan came to, said at the end of `wirerun plan`."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.table import Table

from wirerun.cli.talk import say, say_findings, terminal
from wirerun.errors import MOST_TOLD, printable
from wirerun.findings import name_some
from wirerun.tables import as_lines
from wirerun.terms import in_terms
from wirerun.units import Measure, Units, units_of
from wirerun.wording import many, number, plural

if TYPE_CHECKING:
    from pandas import DataFrame

    from wirerun.records import Plan


def say_summary(made: "Plan", target: Path, *, times: bool) -> None:
    """Say what came out, on lines a person can read at the end of a long day."""
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
    stand = int((posts["standing"] == "yes").sum())
    there = f"; {number(stand)} stand already" if stand else ""
    table.add_row(number(len(posts)), f"posts, {number(2 * len(rows))} of them end posts{there}{lack}")
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
    for item in as_lines(made.materials[made.materials["kind"] == "wire"]):
        stock = f"; {many(item['in_stock'], 'coil', 'are')} in stock" if item["in_stock"] else ""
        coils = printable(f"coils of {item['item']!r}, {item['spare_quantity']} of them spare{stock}")
        table.add_row(number(item["quantity"] + item["spare_quantity"]), f"{coils}{lack}")
    if len(made.zones):
        zones = many(len(made.zones), "work zone")
        table.add_row(
            number(made.zones["hours"].sum()), in_terms(f"labour hours, in {zones}{lack}", made.config.output.terms)
        )
    for words, much in _costs(made):
        table.add_row(number(much), f"{words}{lack}")
    terminal().print(table)
    others = made.findings.loc[made.findings["code"] != "block-missing", ["level", "code", "place", "message"]]
    say_findings(others.itertuples(index=False, name=None), target / "schedule" / "findings.csv")
    if times:
        whole = sum(made.seconds.values())
        for stage, seconds in made.seconds.items():
            say(f"{seconds:7.2f} s {100 * seconds / whole:4.0f} %  {stage}")
    shown = [
        target / name
        for name in ("map.html", "cards/field_cards.pdf", "schedule/order.xlsx")
        if (target / name).exists()
    ]
    say("Look at: " + ", ".join(map(str, shown or [target])))


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
        words = f"labour hours a year to move the foliage wires: {lifts}, let down once"
        yield in_terms(words, made.config.output.terms), years.sum()


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
        lines = made.lines_of(made.wires, one)
        run_out = lines["run_out_m"].sum()
        hangs = ", hangs already" if (lines["standing"] == "yes").all() else ""
        twice = sum(other.wire_id == one.wire_id for other in wires) > 1
        where = f" at {units.height(wire.height_m)} in {name_some(one.block_ids)}" if twice else ""
        side = f"{many(wire.lines, 'line')} of {units.thick(wire.diameter_mm)}"
        yield f"{units.far.sign} of wire {wire.id!r}{where} ({side}){hangs}", float(run_out)


def say_phases(phases: "DataFrame", currency: str) -> None:
    """Say what is built in which year, where that was asked."""
    for one in as_lines(phases):
        hours = f"{number(one['hours'])} h, {number(one['crew_days'], 1)} crew-days, {number(one['cash'])} {currency}"
        say(f"year {one['year']}: {one['blocks']}: {hours}")
