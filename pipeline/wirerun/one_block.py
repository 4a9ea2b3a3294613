"""The story of one block: from its boundary and its ground to what every wire, post and clip must bear."""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Findings
from wirerun.mechanics.load_posterior import LoadPosterior, load_posterior
from wirerun.mechanics.undulation import grade_changes
from wirerun.model.block import PlannedBlock
from wirerun.model.clips import ClipPositions, Clips, Fixings, Need, Sections
from wirerun.model.layout import LeftOut, NamedRows, PostHeights, Posts
from wirerun.model.moved_wires import Adjusters, Drop, Lifts, WaysDown
from wirerun.model.service import Service
from wirerun.model.site import Site
from wirerun.model.wires import StrainFrom, Strung, TensionCheck, WireStates
from wirerun.progress import Progress
from wirerun.records import Block, Drawn, Grid
from wirerun.rules.clip_positions import clip_positions, note_unused
from wirerun.rules.from_catalogue import one_way_holds
from wirerun.rules.in_service import states_given
from wirerun.rules.look_on_site import LookMinutes
from wirerun.rules.pace import slope_factor
from wirerun.rules.post_prices import post_prices
from wirerun.rules.standing import standing_posts, what_stands
from wirerun.rules.wire import stapled
from wirerun.settings import Catalogue, Config, MachineLimit
from wirerun.stages.clips.choose_clips import choose_clips, what_posts_ask
from wirerun.stages.clips.choose_fixings import OnPosts, choose_fixings
from wirerun.stages.clips.hold_down import compare_hold_downs
from wirerun.stages.clips.hold_in_service import hold_in_service
from wirerun.stages.clips.levelling import Levelling, level_clips, note_levelling
from wirerun.stages.clips.standing import note_standing
from wirerun.stages.clips.survey_verdict import judge_survey
from wirerun.stages.clips.undulation import find_sections, judge_if_held, judge_need
from wirerun.stages.layout.boundary import set_out
from wirerun.stages.layout.ground import ground_above_chord
from wirerun.stages.layout.height_errors import errors_of_heights
from wirerun.stages.layout.lay_out import lay_rows, stand_posts
from wirerun.stages.layout.machine_limits import machine_rows
from wirerun.stages.layout.post_heights import choose_posts
from wirerun.stages.layout.posts_from_survey import StoodOn
from wirerun.stages.layout.rows import note_steep_rows
from wirerun.stages.layout.slopes import slopes_of
from wirerun.stages.wires.adjusters import choose_adjusters
from wirerun.stages.wires.end_assemblies import choose_ends
from wirerun.stages.wires.end_give import end_give
from wirerun.stages.wires.in_service import edge_rows, note_wires, service_places, wires_in_service
from wirerun.stages.wires.in_summer import note_soft
from wirerun.stages.wires.let_down import let_down
from wirerun.stages.wires.post_loads import load_posts
from wirerun.stages.wires.posts_in_service import posts_in_service
from wirerun.stages.wires.service_loads import loads_on_wires
from wirerun.stages.wires.slack import slack_to_move
from wirerun.stages.wires.strung import strain_from, string_wires, strung_state
from wirerun.stages.wires.tension_check import tension_sheet
from wirerun.stages.wires.through_the_year import at_temperature, cold_in_clips, lift
from wirerun.stages.wires.unclipped import strained_unclipped
from wirerun.stages.wires.ways_down import choose_ways
from wirerun.state import State


class Outcome(NamedTuple):
    """What came of one block: where it was set out, the rows and their ids, those that cannot be planned, the plan."""

    block: Block
    site: Site
    named: NamedRows
    left_out: LeftOut
    planned: PlannedBlock | None


def plan_one(
    block: Block,
    grid: Grid,
    drawn: Drawn,
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
    progress: Progress,
    limits: tuple[MachineLimit, ...] = (),
) -> Outcome:
    """Plan one block.

    Parameters
    ----------
    block, grid, drawn
        The block, the heights round it, and what was drawn or surveyed for it.
    config : Config
        As this block has it, with what the catalogue fills in.
    catalogue : Catalogue
        What can be bought.
    notes : Findings
        Hears what a person should know.
    progress : Progress
        Hears of each stage and keeps its seconds.
    limits : tuple of MachineLimit
        What the user allows machines.

    Raises
    ------
    SettingError
        If a setting does not work on this ground.
    """
    with progress.stage("rows"):
        site = set_out(block, grid, config.elevation.smoothing_m, notes)
        named = lay_rows(site, drawn, block.block_id, config, notes)
    with progress.stage("posts"):
        layout = stand_posts(named.rows, site, drawn, config, catalogue, notes)
    if layout.posts is None or layout.ground is None or layout.bridges is None or layout.measured is None:
        return Outcome(block, site, named, layout.left_out, None)
    posts = layout.posts
    with progress.stage("ground"):
        above = ground_above_chord(posts, layout.ground, config.posts.max_span_m)
        slopes = slopes_of(posts, site.ground, config.rows.spacing_m, config.work.slope_classes_pct)
    with progress.stage("certainty"):
        errors = errors_of_heights(
            posts, layout.ground, layout.bridges, layout.measured, config.elevation, config.posts
        )
        known = load_posterior(posts.place.stacked(), posts.feet, errors, layout.more)
        by_staple = stapled(config.wires)
    stand, out_m, aside_m = as_they_stand(posts, layout.surveyed, config)
    levelling = None
    if config.clips.level_m > 0.0 and not by_staple.all():
        levelling = _level(posts, above, known, (stand, out_m), config, catalogue, progress)
        posts = posts.shifted(levelling.shift_m)
    hung = _hang(posts, above, (stand, out_m), config, catalogue, notes, progress)
    year, lifts, places, heights = hung.states, hung.lifts, hung.places, hung.heights
    with progress.stage("clips"):
        grade_change, minutes = 100.0 * grade_changes(posts.feet), LookMinutes.of(catalogue)

        def chosen(need: Need) -> tuple[Sections, Clips]:
            sections = find_sections(posts, grade_change, need, ~by_staple, config.undulation)
            return sections, choose_clips(
                posts, year, need, sections, by_staple, places.serves, config.undulation, minutes
            )

        def clips_at(pull_n: float) -> Clips:
            return chosen(judge_if_held(need, posts, known, year, config.clips.marking_m, pull_n))[1]

        hold_n = config.undulation.hold_down_n
        need = judge_need(posts, known, year, lifts, config.clips.marking_m, hold_n)
        sections, clips = chosen(need)
        if levelling is not None:
            note_levelling(posts, levelling, need.need[~by_staple], config, notes)
        judge_survey(
            posts,
            errors,
            known,
            year,
            need,
            (config.elevation, config.posts, config.undulation),
            ~by_staple,
            notes,
        )
        pieces = places.pieces(np.array([wire.lines for wire in config.wires], dtype=np.int64))
        tested = one_way_holds(config, catalogue)
        options = compare_hold_downs(hold_n, clips, clips_at, pieces, tested, notes)
        asked = what_posts_ask(posts, need, clips, config.undulation, minutes, notes)
        loads = load_posts(posts, year, lifts, config.wires, config.posts, notes)
        standing = what_stands(stand, places, np.where(posts.is_end, 0, pieces), config)
        ends = choose_ends(posts, loads.end_pull_n, catalogue, config.work, notes, ~stand)
        note_standing(posts, standing, (heights.out_m, aside_m), places, clips, loads, config, notes)
    with progress.stage("fixings"):
        uplift = year[State.STRUNG].load_n < -hold_n
        pace = slope_factor(slopes.mean_pct, config.work)
        on_posts = OnPosts(posts, heights, pace, standing.pieces)
        fixings, sets = choose_fixings(on_posts, places, clips, need, uplift, config, catalogue, notes)
    with progress.stage("service"):
        service = _serve(named, posts, hung, (need, fixings), config, catalogue, notes)
    note_steep_rows(posts, config.rows, notes)
    planned = PlannedBlock(
        config=config,
        site=site,
        posts=posts,
        bridges=layout.bridges,
        heights=heights,
        places=places,
        slopes=slopes,
        grade_change_pct=grade_change,
        strung=hung.strung,
        strain=hung.strain,
        unclipped_n=hung.unclipped_n,
        states=year,
        cold_up_n=hung.cold_up_n,
        drop=hung.drop,
        ways_down=hung.ways,
        lifts=lifts,
        adjusters=hung.adjusters,
        check=hung.check,
        need=need,
        sections=sections,
        clips=clips,
        fixings=fixings,
        fixing_options=sets,
        hold_down_options=options,
        post_need=asked,
        loads=loads,
        end_item=ends,
        standing=standing,
        machines=machine_rows(posts, slopes, limits, notes),
        service=service,
    )
    return Outcome(block, site, named, layout.left_out, planned)


def as_they_stand(
    posts: Posts, surveyed: StoodOn | None, config: Config
) -> tuple[BoolArray, FloatArray, FloatArray | None]:
    """Which posts stand, how far they are out of the ground, and off their row's line, [post] [m]; as far as known."""
    if surveyed is None:
        return standing_posts(posts, None, config.standing), np.full(len(posts), np.nan), None
    return standing_posts(posts, surveyed.stands, config.standing), surveyed.out_m, surveyed.aside_m


class _Hung(NamedTuple):
    """The wires of a block through the year, and the posts and clip positions that they hang on."""

    strung: Strung
    strain: StrainFrom
    unclipped_n: FloatArray
    heights: PostHeights
    places: ClipPositions
    states: WireStates
    cold_up_n: FloatArray
    drop: Drop
    ways: WaysDown
    lifts: Lifts
    adjusters: Adjusters
    check: TensionCheck


def _hang(
    posts: Posts,
    above_m: FloatArray,
    standing: tuple[BoolArray, FloatArray],
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
    progress: Progress,
) -> _Hung:
    """Every wire on the clips as they are set, strung and through the year."""
    wires, states = config.wires, config.states
    with progress.stage("wires"):
        strung, chains = string_wires(posts, above_m, wires, config.posts.least_clearance_m, notes)
        as_strung = strung_state(posts, chains)
        strain = strain_from(posts, chains, wires, states, notes)
        unclipped = strained_unclipped(posts, wires, notes)
        heights = choose_posts(posts, strung.clearance_m, config.posts, catalogue, notes, standing)
        places = clip_positions(heights.out_m, config.clips, wires, posts.row, ~posts.is_end)
        note_unused(places, notes)
    with progress.stage("season"):
        give = end_give(posts, wires, config.posts)
        frost, up = (
            at_temperature(State.COLD, celsius - states.stringing_c, posts, strung.cut_m, give, wires, notes)
            for celsius in (states.cold_c, states.coldest_c("foliage"))
        )
        cold = cold_in_clips(frost, up, wires)
        hot = at_temperature(State.HOT, states.hot_c - states.stringing_c, posts, strung.cut_m, give, wires, notes)
        note_soft(posts, strung.cut_m, hot, give, wires, states, notes)
        parked = places.parked(posts.first)
        dropped, drop = let_down(posts, above_m, strung.cut_m, give, parked, config, notes)
        slack = slack_to_move(posts, strung.cut_m, give, wires, states, places)
        adjusters = choose_adjusters(posts.rows, drop.take_up_mm, slack, config, notes)
        ways = choose_ways(drop, slack, parked, adjusters)
        lifted, lifts = lift(posts, strung.cut_m, adjusters.fitted, give, wires, states, places, notes)
        year = WireStates.of((as_strung, cold, hot, lifted, dropped))
        check = tension_sheet(posts, strung.cut_m, give, wires, states.stringing_c, config.check)
        cold_up = np.where([[wire.kind == "foliage"] for wire in wires], up.ends.start_n, frost.ends.start_n)
    return _Hung(strung, strain, unclipped, heights, places, year, cold_up, drop, ways, lifts, adjusters, check)


def _serve(
    named: NamedRows,
    posts: Posts,
    hung: _Hung,
    planned: tuple[Need, Fixings],
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
) -> Service | None:
    """The trellis in service as it is planned; None where the config gives no number for any of its loads."""
    if not states_given(config.service):
        return None
    places = service_places(posts, hung.places, config)
    edge = edge_rows(named, posts.rows.row_id, config.service.edge_rows)
    loads = loads_on_wires(edge, places, config, notes)
    need, fixings = planned
    give = end_give(posts, config.wires, config.posts)
    states = wires_in_service(posts, places, loads, hung.strung.cut_m, hung.adjusters.fitted, give, config)
    note_wires(posts, states, need.least_n, config, notes)
    held = hold_in_service((posts, hung.heights), places, states, (need, fixings), config, catalogue, notes)
    bears, rule = posts_in_service((posts, hung.heights), states, config, catalogue, notes)
    return Service(edge, states, held, bears, rule)


def _level(
    posts: Posts,
    above_m: FloatArray,
    known: LoadPosterior,
    standing: tuple[BoolArray, FloatArray],
    config: Config,
    catalogue: Catalogue,
    progress: Progress,
) -> Levelling:
    """Where clips are set off their heights to even out dips."""
    # What is noticed of wires at their heights is not of this plan.
    hung = _hang(posts, above_m, standing, config, catalogue, Findings(), progress)
    with progress.stage("levelling"):
        return level_clips(
            posts,
            known,
            hung.states,
            (hung.heights, hung.places),
            ~stapled(config.wires),
            post_prices(config, catalogue),
            (config.clips, config.undulation),
        )
