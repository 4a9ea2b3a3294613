"""How tall each post is, and which is bought."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, is_blank, no_words
from wirerun.findings import Findings
from wirerun.model.layout import PostHeights, Posts
from wirerun.rules.from_catalogue import cheapest_post
from wirerun.settings import Catalogue, PostSettings
from wirerun.wording import many


def choose_posts(
    posts: Posts,
    clearance_m: FloatArray,
    settings: PostSettings,
    catalogue: Catalogue,
    notes: Findings,
    standing: tuple[BoolArray, FloatArray] | None = None,
) -> PostHeights:
    """Height and item of every post.

    Where the config has a taller post, it goes to both ends of every span in which a wire comes too low. The item
    is the one that the config names, else the cheapest of the catalogue that is long enough. Posts that stand keep the
    height that was measured, and are taken for the item that the config's height asks for.

    Parameters
    ----------
    posts : Posts
        The post axis.
    clearance_m : [wire, span]
        Least height of each wire above the ground. [m]
    settings : PostSettings
        Heights, the least clearance, items.
    catalogue : Catalogue
        Its posts.
    notes : Findings
        Hears of posts without an item.
    standing : ([post], [post]), optional
        Which posts stand, and how far each post was measured to be out of the ground, NaN where it was not. [m]
    """
    height = np.full(len(posts), settings.height_out_m)
    stands = np.zeros(len(posts), dtype=np.bool_) if standing is None else standing[0]
    if settings.tall_height_out_m is not None:
        low = posts.near[(clearance_m < settings.least_clearance_m).any(axis=0)]
        height[np.concatenate([low, low + 1])] = settings.tall_height_out_m
        height[stands] = settings.height_out_m
    item = no_words(len(posts))
    for kind, of_kind, named in (
        ("end", posts.is_end, settings.end_item),
        ("intermediate", ~posts.is_end, settings.intermediate_item),
    ):
        for tall in np.unique(height[of_kind]):
            found = cheapest_post(catalogue, kind, named, float(tall))
            item[of_kind & (height == tall)] = None if found is None else found.id
    if standing is not None:
        height = np.where(stands & ~np.isnan(standing[1]), standing[1], height)
    lost = is_blank(item) & ~stands
    if lost.any():
        notes.note(
            "not-in-catalogue",
            f"The catalogue has no post for {many(lost.sum(), 'place')} in need of {height[lost].min():g} m out of the "
            "ground; the materials have none there.",
        )
    return PostHeights(height, item)
