"""All that the chapters made of one block."""

from dataclasses import dataclass

from wirerun.arrays import FloatArray, TextArray
from wirerun.model.clips import ClipPositions, Clips, FixingOption, Fixings, HoldDownOption, Need, PostNeed, Sections
from wirerun.model.layout import Bridges, MachineRows, PostHeights, Posts, Slopes
from wirerun.model.moved_wires import Adjusters, Drop, Lifts, WaysDown
from wirerun.model.service import Service
from wirerun.model.site import Site
from wirerun.model.standing import Standing
from wirerun.model.wires import PostLoads, StrainFrom, Strung, TensionCheck, WireStates
from wirerun.settings import Config


@dataclass(frozen=True, slots=True, eq=False)
class PlannedBlock:
    """One block, planned: the values that its tables are made from.

    `config` is the config as this block has it, with what the catalogue filled in; its wires are the wire axis.
    `grade_change_pct` is [post]: the grade behind a post less the grade before it. `unclipped_n` is [wire, row]: the
    tension at which a wire ends that is strained before it is in its clips. `end_item` is [post]: the end assembly.
    `standing` is what of it stands already.
    `cold_up_n` is [wire, row]: the tension at the first post on the coldest day that the wire is up. `service` is None
    where the config gives no number for any load of service.
    """

    config: Config
    site: Site
    posts: Posts
    bridges: Bridges
    heights: PostHeights
    places: ClipPositions
    slopes: Slopes
    grade_change_pct: FloatArray
    strung: Strung
    strain: StrainFrom
    unclipped_n: FloatArray
    states: WireStates
    cold_up_n: FloatArray
    drop: Drop
    ways_down: WaysDown
    lifts: Lifts
    adjusters: Adjusters
    check: TensionCheck
    need: Need
    sections: Sections
    clips: Clips
    fixings: Fixings
    fixing_options: tuple[FixingOption, ...]
    hold_down_options: tuple[HoldDownOption, ...]
    post_need: PostNeed
    loads: PostLoads
    end_item: TextArray
    standing: Standing
    machines: MachineRows
    service: Service | None
