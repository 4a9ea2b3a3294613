"""Blocks and exclusions: named, measured, kept apart, and put together."""

import unicodedata
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from wirerun.errors import Faults
from wirerun.findings import Finding
from wirerun.read.polygons import area_m2
from wirerun.read.vector import Feature, VectorFile, read_polygons
from wirerun.records import Block
from wirerun.settings import BlockSettings

# Choices: below, not one row has room; above, it is no block but a district, or in the wrong units.
_LEAST_M2: Final = 100.0
_MOST_M2: Final = 1e7
# Choice: a shared edge a kilometre long, drawn to the millimetre, overlaps no more than this.
_MOST_OVERLAP_M2: Final = 1.0
# Choice: of 10 000 apart, taking the margin off a block takes some seconds, of ten times as many minutes.
_MOST_EXCLUSIONS: Final = 10_000
_MOST_ID_LENGTH: Final = 40


def read_blocks(
    settings: BlockSettings, folder: Path, faults: Faults
) -> tuple[VectorFile | None, list[Block], list[Finding]]:
    """File, blocks without exclusions as yet, and what was noticed.

    Blocks with a fault of their own are left out: it costs no other block.

    Parameters
    ----------
    settings : BlockSettings
        The boundary file, its layer and its naming attribute.
    folder : Path
        Where relative paths start.
    faults : Faults
        Gets the faults.
    """
    given = settings.boundary
    advice = "name the one to read in block.layer"
    file = read_polygons(folder / given, given, faults, layer=settings.layer, field=settings.id_field, several=advice)
    if file is None:
        return None, [], []
    findings: list[Finding] = []
    ids = name_blocks(file.values, settings.id_field, given, faults, findings)
    for number, own in file.refused.items():
        faults.of_block(ids[number]).take_over(own)
    good = [f for f in file.features if _fair_size(f, given, faults.of_block(ids[f.number]))]
    _check_apart(good, ids, given, faults)
    refused = faults.by_block
    blocks = [
        Block(ids[feature.number], feature_name(feature.value) or ids[feature.number], feature.area, MultiPolygon())
        for feature in good
        if ids[feature.number] not in refused
    ]
    return file, blocks, findings


def read_exclusions(given: str, folder: Path, faults: Faults) -> VectorFile | None:
    """Return the file of polygons that no row may enter; None where it as a whole will not do."""
    file = read_polygons(folder / given, given, faults, several="keep the exclusions in a file of one layer")
    # Which block a broken exclusion was meant for is anybody's guess: that costs all.
    for own in file.refused.values() if file else ():
        faults.take_over(own)
    return file


def cut_out(
    blocks: Sequence[Block], exclusions: VectorFile, boundary: str, faults: Faults
) -> tuple[list[Block], list[Finding]]:
    """Blocks with the exclusions that touch them, and a finding for each exclusion that touches none.

    A block that lies wholly within exclusions is a fault.
    """
    areas = [feature.area for feature in exclusions.features]
    tree = STRtree(areas)
    touched: set[int] = set()
    cut = []
    for block in blocks:
        hits = np.sort(tree.query(block.area, predicate="intersects")).tolist()
        touched.update(hits)
        if len(hits) > _MOST_EXCLUSIONS:
            sentence = (
                f"{len(hits)} exclusions in {exclusions.given} touch it; at most {_MOST_EXCLUSIONS} are cut out of a "
                "block: join those that lie closer together than rows do"
            )
            faults.of_block(block.block_id).add(boundary, f"block {block.block_id}", sentence)
            continue
        # Those that do not touch are never compared: of 100 000 apart it takes a third of a second, not nineteen.
        merged = shapely.disjoint_subset_union_all([areas[index] for index in hits])
        whole = Block(block.block_id, block.name, block.area, _as_multi(merged))
        if hits and whole.workable.is_empty:
            sentence = f"nothing is left of it outside the exclusions in {exclusions.given}"
            faults.of_block(block.block_id).add(boundary, f"block {block.block_id}", sentence)
        cut.append(whole)
    findings = [
        Finding("exclusion-apart", f"{exclusions.given}, feature {feature.number}", "This exclusion touches no block.")
        for index, feature in enumerate(exclusions.features)
        if blocks and index not in touched
    ]
    return cut, findings


def feature_name(value: object) -> str | None:
    """Return the id that an attribute gives a block, or None where it cannot serve.

    Text of 1 to 40 printable characters, or a whole number. Control and format characters (a right-to-left mark, say)
    would make two ids look alike or turn a line of a table round.
    """
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        value = int(value)  # some formats keep every number as a float
    if isinstance(value, bool) or not isinstance(value, str | int):
        return None
    text = unicodedata.normalize("NFC", str(value)).strip()
    return text if 1 <= len(text) <= _MOST_ID_LENGTH and text.isprintable() else None


def name_blocks(
    values: Mapping[int, object], field: str | None, given: str, faults: Faults, findings: list[Finding]
) -> dict[int, str]:
    """The id of each feature by its number: its own, else B and the number."""
    own = {number: name for number, value in values.items() if (name := feature_name(value))}
    ids: dict[int, str] = {}
    first: dict[str, int] = {}
    free = _free_numbers(set(own.values()))
    for number, value in values.items():
        name = own.get(number) or free(number)
        if number not in own and field is not None:
            findings.append(Finding("block-named-by-us", name, _why_named(number, value, field, name)))
        elif number in own and name in first:
            sentence = f'it has the id "{name}", as feature {first[name]} has; each block needs its own'
            # Nobody can tell which of the two is meant: it costs both.
            faults.of_block(name).add(given, f"feature {number}", sentence)
        first.setdefault(name, number)
        ids[number] = name
    return ids


def _free_numbers(taken: set[str]) -> Callable[[int], str]:
    """Return what gives B and a number, or the next number that no other block has as its name."""
    last = 0

    def free(number: int) -> str:
        nonlocal last
        last = max(last + 1, number)
        while (name := f"B{last:02d}") in taken:
            last += 1
        return name

    return free


def _why_named(number: int, value: object, field: str, name: str) -> str:
    if value is None or value == "":
        return f"Feature {number} has no {field}; it is called {name}."
    return (
        f"The {field} of feature {number} is no whole number and no text of 1 to {_MOST_ID_LENGTH} printable "
        f"characters; it is called {name}."
    )


def _fair_size(feature: Feature, given: str, faults: Faults) -> bool:
    size = area_m2(feature.area)
    if size < _LEAST_M2:
        faults.add(given, feature.place, f"its area is {size:.3g} m2, below the least of {_LEAST_M2:g} m2")
    elif size > _MOST_M2:
        faults.add(given, feature.place, f"its area is {size / 1e4:.0f} ha, above the most of {_MOST_M2 / 1e4:g} ha")
    return _LEAST_M2 <= size <= _MOST_M2


def _check_apart(features: Sequence[Feature], ids: Mapping[int, str], given: str, faults: Faults) -> None:
    """Refuse blocks that share ground: rows would be laid there twice, and nobody can tell which one is wrong."""
    areas = [feature.area for feature in features]
    one, other = STRtree(areas).query(areas, predicate="intersects") if areas else ((), ())
    told: set[int] = set()
    for i, j in sorted((int(i), int(j)) for i, j in zip(one, other, strict=True) if i < j):
        # One sentence a block will do: of many blocks in one place each meets all.
        if {i, j} <= told:
            continue
        shared = sum(area_m2(part) for part in _polygons(areas[i].intersection(areas[j])))
        if shared > _MOST_OVERLAP_M2:
            for mine, its in ((i, j), (j, i)):
                if mine not in told:
                    faults.of_block(ids[features[mine].number]).add(
                        given,
                        features[mine].place,
                        f"it overlaps {features[its].place} by {shared:.0f} m2 (at most {_MOST_OVERLAP_M2:g} m2 is let "
                        "pass); rows would be laid there twice",
                    )
            told |= {i, j}


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    return [part for part in shapely.get_parts(geometry) if isinstance(part, Polygon)]


def _as_multi(merged: BaseGeometry) -> MultiPolygon:
    return MultiPolygon(_polygons(merged))
