"""What two or more finished plans have in common, and what not."""

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from wirerun.records import FinishedPlan


@dataclass(frozen=True, slots=True)
class TableChanges:
    """How one table of a plan differs from the first plan's.

    Attributes
    ----------
    table : str
    lines : DataFrame
        The lines that differ, as table `DIFFERENCES` has them.
    same : int
        How many lines are the same.
    columns : mapping
        Of the changed lines, in how many each column differs; only columns that do.
    uncompared : tuple of str
        Columns that only one of the two has: another version wrote it.
    """

    table: str
    lines: pd.DataFrame
    same: int
    columns: Mapping[str, int]
    uncompared: tuple[str, ...] = ()

    def count(self, change: str) -> int:
        """Return how many lines were "added", are "gone" or "changed"."""
        return int((self.lines["change"] == change).sum())


@dataclass(frozen=True, slots=True)
class Against:
    """One plan against the first.

    `settings` are the settings that differ, before and after; `inputs` the files that do, by role; `posts` what
    became of each post (table `POST_CHANGES`); `uncompared` the tables that only one of the two has.
    """

    letter: str
    settings: tuple[tuple[str, str, str], ...]
    inputs: tuple[str, ...]
    posts: pd.DataFrame
    tables: tuple[TableChanges, ...]
    uncompared: tuple[str, ...]

    @property
    def equal(self) -> bool:
        """Return whether no line of any table differs."""
        return all(changes.lines.empty for changes in self.tables)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Plans side by side: the plans, each against the first, and their totals (a column a plan, by its letter)."""

    plans: Mapping[str, FinishedPlan]
    against: tuple[Against, ...]
    totals: pd.DataFrame

    @property
    def equal(self) -> bool:
        """Return whether all plans are the same."""
        return all(one.equal for one in self.against)

    @property
    def post_changes(self) -> pd.DataFrame:
        """Return what became of every post that is not the same, of all plans."""
        return pd.concat([one.posts for one in self.against], ignore_index=True)

    @property
    def differences(self) -> pd.DataFrame:
        """Return every line that differs, of all plans."""
        return pd.concat([changes.lines for one in self.against for changes in one.tables], ignore_index=True)
