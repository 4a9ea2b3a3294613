"""Adjusters: which rows and wires need one, and which kind."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, only_where, words
from wirerun.findings import Findings, name_some
from wirerun.model.layout import Rows
from wirerun.model.moved_wires import Adjusters, Slack
from wirerun.settings import AdjusterKind, Config, WireSettings
from wirerun.wording import many, spread


def choose_adjusters(rows: Rows, take_up_mm: FloatArray, slack: Slack, config: Config, notes: Findings) -> Adjusters:
    """Adjuster of every wire that does not drop, or is not moved by hand, without one.

    The first kind of the config whose range holds all that it must give is chosen; where none does, the first that lets
    the wire down or parks it. Turns are the take-up over the barrel's circumference: wire wound on the wire already
    there takes a little less.

    Parameters
    ----------
    rows : Rows
        The row axis.
    take_up_mm : [wire, row]
        Length to give to let the wire down; 0 where none is needed, NaN for wires that stay up. [mm]
    slack : Slack
        Length to give to lift it and to park it.
    config : Config
        Kinds, the preferred one first; the wires, and the tension that a hand moves.
    notes : Findings
        Hears of rows that no kind reaches, and of those that get slack for lifting.
    """
    kinds = config.adjusters.kinds
    down = np.fmax(take_up_mm, slack.park_mm)
    lift = np.nan_to_num(slack.lift_mm)
    whole = np.fmax(down, lift)
    which, reached = _first_that_reaches(kinds, whole)
    only_down, lets_down = _first_that_reaches(kinds, down)
    give_up = ~reached & (down > 0.0) & lets_down
    which, take_up = np.where(give_up, only_down, which), np.where(give_up, down, whole)
    suits = reached | give_up
    names = words([kind.id for kind in kinds] or [""])
    tail = np.array([kind.tail_m for kind in kinds] or [0.0])
    barrel = np.array([kind.barrel_mm or np.nan for kind in kinds] or [np.nan])
    _note_lost(rows, down, lets_down, notes)
    for number, wire in enumerate(config.wires):
        _note_hard(rows, wire, slack.lifted_n[number], lift[number] > 0.0, reached[number], config, notes)
    return Adjusters(
        down_mm=down,
        lift_mm=lift,
        take_up_mm=take_up,
        kind=only_where(suits, names[which]),
        turns=np.where(suits, take_up / (np.pi * barrel[which]), np.nan),
        tail_m=np.where(suits, tail[which], 0.0),
    )


def _first_that_reaches(kinds: tuple[AdjusterKind, ...], take_up_mm: FloatArray) -> tuple[IntArray, BoolArray]:
    """First kind whose range holds the take-up, and whether there is one; where none is needed there is none."""
    least = np.array([kind.least_mm for kind in kinds] or [np.nan])
    most = np.array([kind.most_mm for kind in kinds] or [np.nan])
    reaches = (take_up_mm[..., None] >= least) & (take_up_mm[..., None] <= most)
    return reaches.argmax(axis=-1), np.asarray((take_up_mm > 0.0) & reaches.any(axis=-1))


def _note_lost(rows: Rows, down_mm: FloatArray, lets_down: BoolArray, notes: Findings) -> None:
    lost = (down_mm > 0.0) & ~lets_down
    if lost.any():
        ids = rows.row_id[lost.any(axis=0)]
        notes.note(
            "no-adjuster",
            f"No adjuster of the config takes up {spread(down_mm[lost].min(), down_mm[lost].max())} mm, "
            f"needed in {many(len(ids), 'row')}; one end of the wire has to be undone there each winter: "
            f"{name_some(ids)}.",
        )


def _note_hard(
    rows: Rows,
    wire: WireSettings,
    lifted_n: FloatArray,
    hard: BoolArray,
    reached: BoolArray,
    config: Config,
    notes: Findings,
) -> None:
    limit = config.states.lift_limit_n
    for code, where, say in (
        ("lift-slack", hard & reached, "they get slack from an adjuster"),
        (
            "lift-too-tight",
            hard & ~reached,
            "and no adjuster of the config gives so much slack; lower them, or use ends_move",
        ),
    ):
        if where.any():
            ids = rows.row_id[where]
            notes.note(
                code,
                f"Lifted at the length it has, wire {wire.id} passes the {limit:g} N that a hand moves "
                f"(states.lift_limit_n) in {many(len(ids), 'row')}, up to {lifted_n[where].max():.0f} N; {say}: "
                f"{name_some(ids)}.",
            )
