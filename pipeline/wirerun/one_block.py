"""The story of one block: from its boundary and its ground to what every wire, post and clip must bear."""

from wirerun.findings import Findings
from wirerun.mechanics.undulation import grade_changes
from wirerun.model.block import PlannedBlock
from wirerun.model.wires import WireStates
from wirerun.progress import Progress
from wirerun.records import Block, Drawn, Grid
from wirerun.rules.clip_positions import lift_heights, positions_on
from wirerun.settings import Catalogue, Config
from wirerun.stages.clips.choose_clips import choose_clips, what_posts_ask
from wirerun.stages.clips.choose_fixings import choose_fixings
from wirerun.stages.clips.undulation import find_sections, judge_need
from wirerun.stages.layout.boundary import set_out
from wirerun.stages.layout.ground import ground_above_chord
from wirerun.stages.layout.lay_out import lay_rows, stand_posts
from wirerun.stages.layout.post_heights import choose_posts
from wirerun.stages.layout.rows import note_steep_rows
from wirerun.stages.layout.slopes import slopes_of
from wirerun.stages.wires.adjusters import choose_adjusters
from wirerun.stages.wires.let_down import let_down
from wirerun.stages.wires.post_loads import load_posts
from wirerun.stages.wires.strung import strain_from, string_tight, tight_state
from wirerun.stages.wires.tension_check import tension_sheet
from wirerun.stages.wires.through_the_year import at_temperature, lift
from wirerun.state import State
