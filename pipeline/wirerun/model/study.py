"""A study: cases, what was measured of each, and what that makes of them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd

from wirerun.arrays import FloatArray, TextArray
from wirerun.model.layout import RowGrades
from wirerun.settings import Config
from wirerun.settings.study import RowRule


@dataclass(frozen=True, slots=True)
class Case:
    """One way to plant: its id, the settings that make it, and the config that has them."""

    case_id: str
    settings: Mapping[str, object]
    config: Config


@dataclass(frozen=True, slots=True, eq=False)
class BlockLayout:
    """Rows of one block as laid, and what a study measures of them.

    Attributes
    ----------
    row_id, length_m, bearing_deg : [row]
    grades : RowGrades
    span_m, span_grade_pct : [span]
        Horizontal length and grade without sign. [m, %]
    cross_pct : [post]
        Slope across the row without sign; NaN where not known. [%]
    end_posts, posts, adjusters, left_out : int
    wire_m : float
        Wire to run out, all lines of all wires. [m]
    spacing_m : float
        As the block has it. [m]
    ground_m2 : float
        Workable ground. [m2]
    """

    block_id: str
    row_id: TextArray
    length_m: FloatArray
    bearing_deg: FloatArray
    grades: RowGrades
    span_m: FloatArray
    span_grade_pct: FloatArray
    cross_pct: FloatArray
    posts: int
    adjusters: int
    left_out: int
    wire_m: float
    spacing_m: float
    ground_m2: float


@dataclass(frozen=True, slots=True)
class Study:
    """What came of a study.

    Attributes
    ----------
    config : Config
    keys : tuple of str
        The varied settings.
    rules : tuple of RowRule
        What rows were held against.
    cases : DataFrame
        As `study_table` has it.
    rows : DataFrame
        As `STUDY_ROWS` has it.
    outlines, lines : mapping
        Outlines of the blocks and, of the cases that are shown, ends of the rows: metres east and north of the middle.
    measures : tuple of str
        What the best are the best in: of `study.measures` those that are known of some case.
    """

    config: Config
    keys: tuple[str, ...]
    rules: tuple[RowRule, ...]
    cases: pd.DataFrame
    rows: pd.DataFrame
    outlines: tuple[FloatArray, ...]
    lines: Mapping[str, tuple[FloatArray, ...]]
    measures: tuple[str, ...]
    seconds: Mapping[str, float] = field(default_factory=dict, compare=False)
