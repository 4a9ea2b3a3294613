"""Every use of an item by a plan, a line each: in which row, of what, how many, what for.

Pieces are counted, wire in millimetres. Orders and zones are sums of these lines, so that one cannot disagree with the
other.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, IntArray, TextArray, is_blank, numbered, words
from wirerun.findings import Finding
from wirerun.model.checks import require_shape
from wirerun.model.coils import CoilPlan
from wirerun.model.to_build import ToBuild
from wirerun.rules.wire_work import cheapest_end
from wirerun.settings import Catalogue
from wirerun.settings.fixing_item import FixingItem
from wirerun.wording import many

#: The same thing may be bought for several of these: a staple is a staple, at the wire's end too.
MERGED: Final = ("clip", "staple", "fastener", "wire end")
_ENDS_OF_A_LINE: Final = 2
# Far below a millimetre, far above the rounding of a sum.
_ROUNDING: Final = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Uses:
    """Uses of items. Axis use.

    Attributes
    ----------
    row : [use]
        Where.
    kind, item : [use]
    quantity : [use], >= 0
        Pieces, or millimetres of wire.
    what_for, wire_id : [use]
        In words, and for which wire; None where there is nothing to say, and where it is of no wire.
    """

    row: IntArray
    kind: TextArray
    item: TextArray
    quantity: IntArray
    what_for: TextArray
    wire_id: TextArray

    def __post_init__(self) -> None:
        each = {name: getattr(self, name) for name in self.__dataclass_fields__}
        require_shape(self, self.row.shape, **each)

    def __len__(self) -> int:
        return len(self.row)

    @classmethod
    def of(
        cls,
        row: IntArray,
        kind: TextArray | str,
        item: TextArray | str,
        quantity: IntArray,
        what_for: TextArray | str | None = None,
        wire_id: TextArray | None = None,
    ) -> "Uses":
        """Uses of one kind, item or purpose, or of one each."""
        kinds, items, whats, wires = (_each(one, len(row)) for one in (kind, item, what_for, wire_id))
        return cls(row, kinds, items, np.asarray(quantity, dtype=np.int64), whats, wires)

    @classmethod
    def joined(cls, parts: Iterable["Uses"]) -> "Uses":
        """All uses, one part after another."""
        none = words([])
        empty = cls(np.zeros(0, dtype=np.int64), none, none, np.zeros(0, dtype=np.int64), none, none)
        every = [empty, *parts]
        return cls(*(np.concatenate([getattr(one, name) for one in every]) for name in cls.__dataclass_fields__))

    def only(self, kept: BoolArray) -> "Uses":
        """Those for which `kept`, [use], is true."""
        return Uses(*(getattr(self, name)[kept] for name in self.__dataclass_fields__))


def all_uses(job: ToBuild, cut: CoilPlan, catalogue: Catalogue) -> tuple[Uses, list[Finding]]:
    """Every use but tools, and what the catalogue has nothing for."""
    posts, gear = job.posts, job.adjusters
    ends, lacking = _wire_ends(job, cut, catalogue)
    there, braced = ~is_blank(posts.item), ~is_blank(posts.end_item)
    as_post = np.where(posts.is_end, words(["as end post"]), words(["as intermediate post"]))
    parts = [
        Uses.of(posts.row[there], "post", posts.item[there], posts.posts[there], as_post[there]),
        *_wire(job, cut),
        *_fixings(job, catalogue),
        *ends,
        Uses.of(gear.row, "adjuster", gear.item, gear.adjusters, None, gear.wire_id),
        Uses.of(posts.row[braced], "end assembly", posts.end_item[braced], posts.posts[braced], "to hold end posts"),
    ]
    return Uses.joined(parts), lacking


def kind_of(fixing: FixingItem) -> str:
    """Return the kind of material that a fixing is."""
    return "staple" if fixing.kind.endswith("staple") else "clip"


def one_kind(kind: TextArray, item: TextArray) -> TextArray:
    """Kind of each line, the first of the kinds under which its item is bought, [line]."""
    pairs = list(zip(kind.tolist(), item.tolist(), strict=True))
    first = {name: one for one in reversed(MERGED) for what, name in set(pairs) if what == one}
    return words(first[name] if what in MERGED else what for what, name in pairs)


def _each(given: TextArray | str | None, many_of: int) -> TextArray:
    return given if isinstance(given, np.ndarray) else np.full(many_of, given, dtype=object)


def _wire(job: ToBuild, cut: CoilPlan) -> list[Uses]:
    """Wire in millimetres, as it is cut from the coils; else by the run."""
    lines, pieces, wires = cut.lines, cut.pieces, job.wires
    length_mm = pieces.to_mm - pieces.from_mm
    from_coils = Uses.of(
        lines.row[pieces.line], "wire", lines.item[pieces.line], length_mm, None, lines.wire_id[pieces.line]
    )
    other = is_blank(wires.item)
    names = words(f"{thick:g} mm wire, not in the catalogue" for thick in wires.diameter_mm[other])
    run_mm = np.ceil(1000.0 * wires.line_m[other] - _ROUNDING).astype(np.int64)
    by_run = Uses.of(wires.row[other], "wire", names, wires.lines[other] * run_mm, None, wires.wire_id[other])
    return [from_coils, by_run]


def _fixings(job: ToBuild, catalogue: Catalogue) -> list[Uses]:
    """Clips and staples, and what fixes them."""
    clips, known = job.clips, {fixing.id: fixing for fixing in catalogue.fixings}
    held = np.flatnonzero([item in known for item in clips.item])
    if not len(held):
        return []
    fixing = [known[item] for item in clips.item[held]]
    said = zip(fixing, clips.clip[held], clips.seat[held], strict=True)
    use = words(f"{clip}{f' {seat}' if seat else ''}{', upside down' * bool(one.sold_as)}" for one, clip, seat in said)
    each = np.array([one.fasteners if one.fastener else 0 for one in fixing], dtype=np.int64)
    fixed, fastener = each > 0, words(one.fastener for one in fixing)
    bought = words(one.bought_as for one in fixing)
    row, wire_id, pieces = clips.row[held], clips.wire_id[held], clips.pieces[held]
    what_for = words(f"for {name}" for name in bought)
    return [
        Uses.of(row, words(kind_of(one) for one in fixing), bought, pieces, use, wire_id),
        Uses.of(row[fixed], "fastener", fastener[fixed], (pieces * each)[fixed], what_for[fixed], wire_id[fixed]),
    ]


def joins_of(job: ToBuild, cut: CoilPlan) -> IntArray:
    """How many joins the lines of each wire of a row have together, [wire]."""
    pieces, lines = cut.pieces, cut.lines
    on = pieces.line[pieces.joins_on]
    return _counted(job, lines.row[on], lines.wire_id[on], np.ones(len(on), dtype=np.int64))


def _counted(job: ToBuild, row: IntArray, wire_id: TextArray, many_of: IntArray) -> IntArray:
    """How many of something each wire of a row has, [wire], from row and wire of them."""
    place = {key: at for at, key in enumerate(zip(job.wires.row.tolist(), job.wires.wire_id.tolist(), strict=True))}
    keys = zip(row.tolist(), wire_id.tolist(), strict=True)
    at = np.array([place.get(key, -1) for key in keys], dtype=np.int64)
    return np.bincount(at[at >= 0], weights=many_of[at >= 0], minlength=len(place)).astype(np.int64)


def _wire_ends(job: ToBuild, cut: CoilPlan, catalogue: Catalogue) -> tuple[list[Uses], list[Finding]]:
    """End staples, tie-offs, joins and hooks for ends that move, each the cheapest of the catalogue."""
    wires, gear = job.wires, job.adjusters
    ends = _ENDS_OF_A_LINE * wires.lines
    fitted = _counted(job, gear.row, gear.wire_id, gear.adjusters)
    counts: Sequence[tuple[str, IntArray]] = (
        ("end staple", ends),
        ("tie-off", ends - fitted),
        ("join", joins_of(job, cut)),
        ("end hook", np.where(wires.ends_move, ends, 0)),
    )
    parts, findings = [], []
    for use, each in counts:
        needed = each > 0
        if not needed.any():
            continue
        item = cheapest_end(catalogue.wire_ends, use)
        if item is None:
            sentence = f"The catalogue has no {use} for {many(each.sum(), 'place')}; none is in the materials."
            findings.append(Finding("not-in-catalogue", use, sentence))
            continue
        row, wire_id = wires.row[needed], wires.wire_id[needed]
        parts.append(Uses.of(row, "wire end", item.id, item.pieces * each[needed], f"for {use}", wire_id))
    return parts, findings


def summed(uses: Uses, *also: IntArray) -> tuple[list[tuple[object, ...]], IntArray]:
    """Uses summed by kind and item, and by more keys before them; keys in order, and sums."""
    number, keys = numbered(*also, uses.kind, uses.item)
    quantity = np.bincount(number, weights=uses.quantity, minlength=len(keys)).astype(np.int64)
    order = sorted(range(len(keys)), key=lambda at: keys[at])
    return [keys[at] for at in order], quantity[order]
