"""How large a job is, told before it starts: how many posts, how much memory and time; and whether that is there."""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from wirerun.errors import Faults
from wirerun.read.polygons import area_m2
from wirerun.records import Block
from wirerun.settings import Config
from wirerun.wording import many, number

# Measured on the sample estate and on made ground of 10, 25 and 64 ha, to a third or so: memory for each wire of each
# post, beside what the program itself takes, and processor time with all parts written.
_BYTES_PER_WIRE_OF_POST: Final = 6_000
_BYTES_BEFORE: Final = 300_000_000
_SECONDS_PER_POST: Final = 0.003

#: Choice: a page with more posts than this opens in no browser, and no GIS draws its spans in good time.
MOST_POSTS: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class JobSize:
    """What a job comes to, roughly."""

    posts: float
    memory: float

    @classmethod
    def of(cls, block: Block, config: Config) -> "JobSize":
        """Size of one block, by its area outside exclusions and its own settings."""
        own = config.for_block(block.block_id)
        posts = area_m2(block.workable) / (own.rows.spacing_m * own.posts.max_span_m)
        return cls(posts, posts * len(own.wires) * _BYTES_PER_WIRE_OF_POST)

    @property
    def words(self) -> str:
        """Return the size in words."""
        gigabytes = (self.memory + _BYTES_BEFORE) / 1e9
        minutes = max(1.0, self.posts * _SECONDS_PER_POST / 60.0)
        return (
            f"about {number(round(self.posts, -2))} posts, {gigabytes:.1f} GB of memory and {number(minutes)} minutes "
            "of one processor"
        )

    def why_too_large(self, memory_there: float) -> str:
        """Return why a job of this size is not begun; "" where it may be."""
        if self.posts > MOST_POSTS:
            return f"at most {number(MOST_POSTS)} posts are planned at once"
        if self.memory + _BYTES_BEFORE > memory_there:
            return f"this machine has {memory_there / 1e9:.1f} GB"
        return ""


def fitting_blocks(blocks: Sequence[Block], config: Config, faults: Faults) -> list[Block]:
    """Blocks that are not too large to be planned by themselves; a fault for each that is, and one for all together.

    Parameters
    ----------
    blocks : sequence of Block
        As read, with their exclusions.
    config : Config
        The config.
    faults : Faults
        Gets the faults.
    """
    there = memory_there()
    sizes = {block.block_id: JobSize.of(block, config) for block in blocks}
    good = []
    for block in blocks:
        why = sizes[block.block_id].why_too_large(there)
        if why:
            sentence = (
                f"it needs {sizes[block.block_id].words}; {why}; divide the block, or set rows.spacing_m or "
                "posts.max_span_m larger"
            )
            faults.of_block(block.block_id).add(config.block.boundary, f"block {block.block_id}", sentence)
        else:
            good.append(block)
    mine = [sizes[block.block_id] for block in good]
    whole = JobSize(sum(size.posts for size in mine), sum(size.memory for size in mine))
    why = whole.why_too_large(there)
    if why:
        sentence = f"{many(len(good), 'block')} together need {whole.words}; {why}; plan fewer blocks at once"
        faults.add(config.block.boundary, "", sentence)
    return good


def memory_there() -> float:
    """Memory that this machine has, or that the process may take where that is less [bytes]; infinite if not known."""
    try:
        there = float(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES"))
    except (AttributeError, ValueError, OSError):
        return float("inf")
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return there
    limit = resource.getrlimit(resource.RLIMIT_AS)[0]
    return there if limit == resource.RLIM_INFINITY else min(there, float(limit))
