"""What posts are pushed to the side in service, and what the ground beside them bears by the rule that is chosen."""

from typing import Final

import numpy as np

from wirerun.arrays import FloatArray, TextArray, is_blank, no_words, places_in
from wirerun.findings import Findings, name_some
from wirerun.mechanics.post_in_ground import push_by_code, push_in_clay, push_in_sand
from wirerun.model.layout import PostHeights, Posts
from wirerun.model.service import InService
from wirerun.settings import Catalogue, Config, ServiceSettings
from wirerun.wording import many, number

#: What is said of each rule wherever its number is shown.
_RULES: Final = {
    "code": "building code, allowable (IBC 1807.3.2.1)",
    "clay": "short post in clay (Broms)",
    "sand": "short post in sand (Broms)",
    "measured": "measured pull",
}


def posts_in_service(
    standing: tuple[Posts, PostHeights],
    states: tuple[InService, ...],
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
) -> tuple[tuple[FloatArray, ...], TextArray]:
    """Moment about the ground that the ground beside each post bears in every state, [post] [Nm], and the rule, [post].

    A push is taken at the height at which all the wires together push. A measured pull is for intermediate posts; a
    post without a size in the catalogue bears nothing that is known. Along the row only the pull is told: what an end
    post bears there is its end assembly's affair.

    Parameters
    ----------
    standing : Posts, PostHeights
        The posts, and which are bought.
    states : tuple of InService
        What the wires push.
    config : Config
        The rule.
    catalogue : Catalogue
        Depth and width of the posts.
    notes : Findings
        Hears of posts that are pushed harder than that.
    """
    posts, heights = standing
    asked = config.service
    sizes = np.array([*((item.depth_m, item.width_mm / 1000.0) for item in catalogue.posts), (np.nan, np.nan)])
    # A post that the catalogue does not have is in place -1, the last.
    depth, width = sizes[places_in((item.id for item in catalogue.posts), heights.item)].T
    measured = asked.post_pull_n is not None and ~posts.is_end
    rule = no_words(len(posts))
    if asked.post_rule is not None:
        rule[~np.isnan(depth)] = _RULES[asked.post_rule]
    rule[np.broadcast_to(measured, len(posts))] = _RULES["measured"]
    bears = []
    for each in states:
        side = np.where(each.is_pushed, each.post_side_n, np.nan)
        by_rule = _by_rule(depth, width, each.post_moment_nm / side, asked)
        own = (asked.post_pull_n or 0.0) * (asked.post_pull_at_m or 0.0) / asked.post_factor
        bears.append(np.where(measured, own, by_rule))
    _note_pushed(posts, states, bears, rule, notes)
    return tuple(bears), rule


def _by_rule(depth_m: FloatArray, width_m: FloatArray, arm_m: FloatArray, asked: ServiceSettings) -> FloatArray:
    """Moment about the ground that a post bears by the rule of the config, [post] [Nm]; NaN where there is none."""
    found = np.full(len(depth_m), np.nan)
    known = ~np.isnan(depth_m) & ~np.isnan(arm_m)
    depth, width, arm = depth_m[known], width_m[known], arm_m[known]
    if asked.post_rule == "code" and asked.code_kpa_per_m is not None:
        found[known] = arm * push_by_code(depth, width, arm, 1000.0 * asked.code_kpa_per_m * depth / 3.0)
    if asked.post_rule == "clay" and asked.clay_kpa is not None:
        found[known] = arm * push_in_clay(depth, width, arm, 1000.0 * asked.clay_kpa) / asked.post_factor
    if asked.post_rule == "sand" and asked.sand_kn_m3 is not None and asked.sand_deg is not None:
        push = push_in_sand(depth, width, arm, 1000.0 * asked.sand_kn_m3, asked.sand_deg)
        found[known] = arm * push / asked.post_factor
    return found


def _note_pushed(
    posts: Posts, states: tuple[InService, ...], bears_nm: list[FloatArray], rule: TextArray, notes: Findings
) -> None:
    moment, bears = np.stack([each.post_moment_nm for each in states]), np.stack(bears_nm)
    if not any(each.is_pushed.any() for each in states):
        return
    state, post = np.unravel_index(int(np.nanargmax(moment)), moment.shape)
    said = (
        f"In service the wires push a post to the side by up to {moment[state, post]:.0f} Nm about the ground "
        f"({states[state].on.state}, {posts.post_id[post]})"
    )
    over = moment > bears
    known = " and ".join(sorted(set(rule[~is_blank(rule)])))
    if not known:
        notes.note(
            "service-moment", f"{said}; no rule for the ground is chosen (service.post_rule), so none is judged."
        )
    elif not over.any():
        notes.note("service-moment", f"{said}; all bear that by the rule: {known}. It is no proof.")
    else:
        of_states = ", ".join(
            f"{each.on.state} {number(count)}" for each, count in zip(states, over.sum(axis=1), strict=True) if count
        )
        notes.note(
            "service-post",
            f"{said}. By the rule, {known}, {many(over.any(axis=0).sum(), 'post')} of {number(len(posts))} bear less, "
            f"down to {np.nanmin(bears):.0f} Nm: {of_states}. Such rules differ twentyfold: pull a post of yours "
            "sideways (service.post_pull_n); deeper, thicker or closer posts bear more. A competent person judges: "
            f"{name_some(posts.post_id[over.any(axis=0)])}.",
        )
