"""An estate on disk: a plan a block in `blocks/`, and in `all/` what they come to together."""

from wirerun.write.estate.folders import BLOCKS, ROLL_UP, EstateBlock, folder_of
from wirerun.write.estate.roll_up import write_roll_up
from wirerun.write.estate.tables import block_table

__all__ = ["BLOCKS", "ROLL_UP", "EstateBlock", "block_table", "folder_of", "write_roll_up"]
