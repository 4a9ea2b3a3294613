"""The wires as strung: lengths, tensions and sag of every span, load of every clip, clearance to the ground."""

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.errors import MechanicsError, SettingError
from wirerun.findings import Findings, name_some
from wirerun.ids import span_ids
from wirerun.mechanics.chain import Chain, solve_chain, unstretched_totals
from wirerun.mechanics.friction import ADVICE, strain_advice
from wirerun.model.layout import Posts
from wirerun.model.wires import InState, StrainFrom, Strung
from wirerun.rules.wire import hung, wire_of
from wirerun.settings import StateSettings, WireSettings
from wirerun.stages.wires.chains import in_state
from wirerun.state import State
from wirerun.wording import many, spread


def string_wires(
    posts: Posts, above_chord_m: FloatArray, wires: tuple[WireSettings, ...], least_clearance_m: float, notes: Findings
) -> tuple[Strung, tuple[Chain, ...]]:
    """Every wire of every row as strung.

    Each wire is one piece that slides over its supports without friction, stapled at its height above ground to both
    end posts, with the set tension at the row's first post.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    above_chord_m : [span, place]
        Ground above the line between the posts' feet, at equal parts of each span. [m]
    wires : tuple of WireSettings
        The wire axis.
    least_clearance_m : float
        How near the ground a wire may come. [m]
    notes : Findings
        Hears of wires too close to the ground.

    Returns
    -------
    strung : Strung
        Lengths, and the spans.
    chains : tuple of Chain
        A wire each, for its loads.

    Raises
    ------
    SettingError
        If a wire's tension is too low to carry a span.
    """
    chains = tuple(_chain(posts, wire) for wire in wires)
    strung = Strung(
        cut_m=np.stack([unstretched_totals(chain) for chain in chains]),
        stretched_m=np.stack([chain.spans.stretched_m for chain in chains]),
        span_cut_m=np.stack([chain.spans.unstretched_m for chain in chains]),
        sag_m=np.stack([chain.spans.sag_m for chain in chains]),
        near_n=np.stack([chain.spans.tension_start_n for chain in chains]),
        far_n=np.stack([chain.spans.tension_end_n for chain in chains]),
        clearance_m=np.stack(
            [
                _clearance(above_chord_m, _over_feet(posts, wire), chain)
                for wire, chain in zip(wires, chains, strict=True)
            ]
        ),
    )
    _note_low(posts, strung, wires, least_clearance_m, notes)
    return strung, chains


def strung_state(posts: Posts, chains: tuple[Chain, ...]) -> InState:
    """Return the loads and end forces of the wires as strung."""
    return in_state(State.STRUNG, posts, chains)


def strain_from(
    posts: Posts, chains: tuple[Chain, ...], wires: tuple[WireSettings, ...], states: StateSettings, notes: Findings
) -> StrainFrom:
    """From where to strain every wire, so that friction in the clips leaves no part of it too slack.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    chains : tuple of Chain
        The wires as strung.
    wires : tuple of WireSettings
        The wire axis.
    states : StateSettings
        Friction, and the share of the tension that must reach the far end.
    notes : Findings
        Hears of rows that ask for more than one straining end.
    """
    advice = [
        strain_advice(chain, states.friction, states.min_far_tension, plan_turn_rad=posts.turn_rad) for chain in chains
    ]
    ways = np.array(ADVICE, dtype=object)
    found = StrainFrom(
        way=np.stack([ways[each.advice] for each in advice]),
        kept=np.stack([each.one_end_share for each in advice]),
        far_n=np.stack([each.far_end_n for each in advice]),
        middle_post=np.stack([each.middle_support for each in advice]),
    )
    _note_hard_sliding(posts, found, wires, states.min_far_tension, notes)
    return found


def _chain(posts: Posts, wire: WireSettings) -> Chain:
    try:
        return solve_chain(hung(posts, wire), wire_of(wire), wire.tension_n)
    except MechanicsError as error:
        place = f"wires.{wire.id}.tension_n = {wire.tension_n:g}"
        raise SettingError(place, f"the wire cannot be strung: {error}") from error


def _over_feet(posts: Posts, wire: WireSettings) -> FloatArray:
    """Height of the wire over the foot of each post, [post] [m]."""
    return hung(posts, wire).z_m - posts.ground_m


def _clearance(above_chord_m: FloatArray, over_feet_m: FloatArray, chain: Chain) -> FloatArray:
    share, near = np.linspace(0.0, 1.0, above_chord_m.shape[1]), chain.span_from
    chord = over_feet_m[near, None] * (1.0 - share) + over_feet_m[near + 1, None] * share
    # The wire hangs below its chord as a parabola: at trellis tensions that is the catenary to the micrometre.
    gap = chord - 4.0 * chain.spans.sag_m[:, None] * share * (1.0 - share) - above_chord_m
    return np.asarray(gap.min(axis=1))


def _note_low(posts: Posts, strung: Strung, wires: tuple[WireSettings, ...], least_m: float, notes: Findings) -> None:
    for wire, clearance in sorted(zip(wires, strung.clearance_m, strict=True), key=lambda pair: pair[0].id):
        low = np.flatnonzero(clearance < least_m)
        if len(low):
            notes.note(
                "low-clearance",
                f"Wire {wire.id} comes closer to the ground than {least_m:g} m in {many(len(low), 'span')}, down to "
                f"{clearance[low].min():.2f} m (below 0 it touches): "
                f"{name_some(span_ids(posts.post_id[posts.near[low]]))}.",
            )


def _note_hard_sliding(
    posts: Posts, found: StrainFrom, wires: tuple[WireSettings, ...], least_share: float, notes: Findings
) -> None:
    for number in sorted(range(len(wires)), key=lambda each: wires[each].id):
        hard = np.flatnonzero(found.kept[number] < least_share)
        if not len(hard):
            continue
        counted = [((found.way[number][hard] == way).sum(), way) for way in ("both ends", "middle")]
        ways = " and ".join(f"{count} from {'the ' * (way == 'middle')}{way}" for count, way in counted if count)
        length = posts.along_m[posts.last[hard]]
        notes.note(
            "strain-from",
            f"Strained from one end, wire {wires[number].id} keeps less than {100.0 * least_share:.0f} % of its "
            f"tension at the far end in {many(len(hard), 'row')} of {spread(length.min(), length.max())} m, down "
            f"to {100.0 * found.kept[number][hard].min():.0f} %; strain {ways}: "
            f"{name_some(posts.rows.row_id[hard])}.",
        )
