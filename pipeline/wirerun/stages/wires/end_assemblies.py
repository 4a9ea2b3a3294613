"""What holds the end posts: of the catalogue's end assemblies the cheapest for the row's length and the wires' pull."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, TextArray, no_words, only_where, words
from wirerun.findings import Findings, name_some
from wirerun.model.layout import Posts
from wirerun.settings import Catalogue, WorkSettings
from wirerun.wording import many


def choose_ends(
    posts: Posts,
    end_pull_n: FloatArray,
    catalogue: Catalogue,
    work: WorkSettings,
    notes: Findings,
    to_build: BoolArray | None = None,
) -> TextArray:
    """End assembly of each end post, as named in the catalogue, [post]; None elsewhere and where none will do.

    It must be meant for rows so long and for the greatest pull of all wires together. It is picked, not sized: soil,
    depth and vines decide too, and a competent person has to.

    Parameters
    ----------
    posts : Posts
        The post axis.
    end_pull_n : [post]
        Greatest horizontal pull on each end post. [N]
    catalogue : Catalogue
        Its ends; without any nothing is chosen, and nothing said.
    work : WorkSettings
        What an hour costs.
    notes : Findings
        Hears of end posts for which there is none.
    to_build : [post], optional
        Posts whose ends are built; the others stand.
    """
    chosen = no_words(len(posts))
    ends = catalogue.ends
    if not ends:
        return chosen
    at = np.flatnonzero(posts.is_end if to_build is None else posts.is_end & to_build)
    length = posts.rows.length_m[posts.row[at]]
    most_row = np.array([np.inf if end.most_row_m is None else end.most_row_m for end in ends])
    most_pull = np.array([np.inf if end.most_pull_n is None else end.most_pull_n for end in ends])
    hour = work.labour_per_hour or 0.0
    cost = np.array([np.inf if end.price is None else end.price + end.minutes / 60.0 * hour for end in ends])
    # What has no price comes last, and of such the first of the file.
    rank = np.argsort(np.argsort(cost, kind="stable"), kind="stable")
    able = (length[:, None] <= most_row) & (end_pull_n[at, None] <= most_pull)
    best = np.where(able, rank, len(ends)).argmin(axis=1)
    found = np.asarray(able.any(axis=1))
    chosen[at] = only_where(found, words(end.id for end in ends)[best])
    lost = at[~found]
    if len(lost):
        notes.note(
            "no-end",
            f"No end assembly of the catalogue is for {many(len(lost), 'end post')}, pulled by up to "
            f"{np.nanmax(end_pull_n[lost]):.0f} N; a competent person has to size them: "
            f"{name_some(posts.post_id[lost])}.",
        )
    return chosen
