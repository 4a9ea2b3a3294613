"""Which files a height raster consists of: one, a list, those of a folder, or those that a local VRT names.

Nothing is opened here but the text of a VRT; what it names must be plain local files.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Final
from xml.etree import ElementTree as ET

from wirerun.errors import Faults
from wirerun.read.plain_file import Part, part, plain_file
from wirerun.settings.section import is_remote, name_of_files

_ENDS: Final = (".tif", ".tiff", ".asc")
_VRT: Final = re.compile(rb"^(?:\xef\xbb\xbf)?\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)*<VRTDataset\b", re.DOTALL)
# Choices: more tiles than one survey has, and the room that so many take in a VRT.
_MOST_FILES: Final = 5000
_MOST_VRT_BYTES: Final = 10_000_000


@dataclass(frozen=True, slots=True)
class RasterFile:
    """A file of heights: where it is, its path as the user gave it, and what a VRT says of it.

    `no_data` are numbers that mean no height. `cells` is the part of it that counts: first column and row, how many of
    each; None for all of it.
    """

    real: Path
    given: str
    no_data: tuple[float, ...] = ()
    cells: tuple[int, int, int, int] | None = None


@dataclass(frozen=True, slots=True)
class RasterFiles:
    """The files, from the one whose heights count where they overlap; what to call them all; a VRT's own file."""

    files: tuple[RasterFile, ...]
    given: str
    listed_in: tuple[tuple[str, Part], ...] = ()


def find_raster_files(raster: str | Sequence[str], folder: Path, faults: Faults) -> RasterFiles | None:
    """The files of a height raster, in the order in which they count; None, with every fault told, where one fails.

    Parameters
    ----------
    raster : str or sequence of str
        `elevation.raster`: a file, a folder (its .tif, .tiff and .asc files, by name), a VRT, or several of these.
    folder : Path
        Where relative paths start.
    faults : Faults
        Gets the faults.
    """
    before = len(faults.found)
    files: list[RasterFile] = []
    listed: list[tuple[str, Part]] = []
    for given in [raster] if isinstance(raster, str) else raster:
        path = folder / given
        if path.is_dir():
            files += _of_folder(path, given, faults)
        elif (real := plain_file(path, given, faults)) is not None:
            if _is_vrt(real):
                listed.append((given, part(real)))
                files += _of_vrt(real, given, faults)
            else:
                files.append(RasterFile(real, given))
    name = name_of_files(raster)
    if len(files) > _MOST_FILES:
        faults.add(
            name, "", f"{len(files)} files are too many; at most {_MOST_FILES} are read: take those of the blocks"
        )
    # A file named twice, by itself and as one of its folder, counts where it comes first.
    once = {(file.real, file.cells): file for file in reversed(files)}
    whole = tuple(file for file in files if once.get((file.real, file.cells)) is file)
    return None if len(faults.found) > before else RasterFiles(whole, name, tuple(listed))


def beside(path: Path) -> list[str]:
    """Names of the other files of heights in a file's folder."""
    try:
        names = sorted(entry.name for entry in path.parent.iterdir() if _counts(entry))
    except OSError:
        return []
    return [name for name in names if name != path.name]


def _counts(entry: Path) -> bool:
    return entry.suffix.lower() in _ENDS and not entry.name.startswith(".") and entry.is_file()


def _of_folder(path: Path, given: str, faults: Faults) -> list[RasterFile]:
    try:
        names = sorted(entry.name for entry in path.iterdir() if _counts(entry))
    except OSError as error:
        faults.add(given, "", f"the folder cannot be read: {error.strerror}")
        return []
    if not names:
        faults.add(given, "", f"the folder holds no file of heights ({', '.join(_ENDS)})")
    found = ((plain_file(path / name, one, faults), one) for name in names if (one := str(PurePath(given) / name)))
    return [RasterFile(real, one) for real, one in found if real is not None]


def _is_vrt(real: Path) -> bool:
    with real.open("rb") as stream:
        return _VRT.match(stream.read(4000)) is not None


def _of_vrt(real: Path, given: str, faults: Faults) -> list[RasterFile]:
    """Return the files that a VRT puts side by side, the last first: it lies on top."""
    if real.stat().st_size > _MOST_VRT_BYTES:
        faults.add(given, "", f"the VRT has {real.stat().st_size} bytes; at most {_MOST_VRT_BYTES} are read")
        return []
    text = real.read_bytes()
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
        faults.add(given, "", "the VRT declares entities; only plain lists of files are read")
        return []
    try:
        tree = ET.fromstring(text)  # noqa: S314 - without entities there is nothing to expand
    except ET.ParseError as error:
        faults.add(given, "", f"the VRT is no valid XML: {error}")
        return []
    why = _why_not_plain(tree)
    if why:
        faults.add(given, "", f"the VRT {why}; only VRTs that put GeoTIFFs or ASCII grids side by side are read")
        return []
    band = next(child for child in tree if child.tag == "VRTRasterBand")
    declared = _numbers(band.findtext("NoDataValue"))
    files = []
    for source in reversed([child for child in band if child.tag in _SOURCES]):
        named = source.find("SourceFilename")
        name = ((named.text if named is not None else "") or "").strip()
        member = str(PurePath(given).parent / name)
        if not name or is_remote(name):
            faults.add(given, "", f'the VRT names "{name[:200]}"; only plain local files are read')
            continue
        there = plain_file(real.parent / name, member, faults)
        size, place = (_rectangle(source.find(which)) for which in ("SrcRect", "DstRect"))
        if there is None:
            continue
        if (size is None) != (place is None) or (size and place and size[2:] != place[2:]):
            faults.add(given, "", f"the VRT stretches {name[:200]}, or takes parts of cells; have it made without")
            continue
        no_data = (*declared, *_numbers(source.findtext("NODATA")))
        files.append(RasterFile(there, member, no_data, size))
    if not files and not faults:
        faults.add(given, "", "the VRT names no files")
    return files


_SOURCES: Final = ("SimpleSource", "ComplexSource")
# What may stand in a band and in a source without changing a height.
_IN_BAND: Final = {
    *_SOURCES,
    "NoDataValue",
    "ColorInterp",
    "Description",
    "Histograms",
    "Metadata",
    "HideNoDataValue",
    "UnitType",
    "Overview",
    "CategoryNames",
}
_IN_SOURCE: Final = {
    "SourceFilename",
    "SourceBand",
    "SourceProperties",
    "SrcRect",
    "DstRect",
    "NODATA",
    "OpenOptions",
}
_IN_VRT: Final = {"SRS", "GeoTransform", "VRTRasterBand", "Metadata", "OverviewList", "BlockXSize", "BlockYSize"}


def _why_not_plain(tree: ET.Element) -> str:
    """Return what a VRT does besides putting files side by side; "" where it does nothing else."""
    if tree.tag != "VRTDataset" or tree.get("subClass"):
        return f"is of another kind ({tree.get('subClass') or tree.tag})"
    bands = [child for child in tree if child.tag == "VRTRasterBand"]
    if len(bands) != 1:
        return f"has {len(bands)} bands, where heights have one"
    if bands[0].get("subClass"):
        return f"computes its heights ({bands[0].get('subClass')})"
    odd = {child.tag for child in tree} - _IN_VRT | {child.tag for child in bands[0]} - _IN_BAND
    odd |= {child.tag for source in bands[0] if source.tag in _SOURCES for child in source} - _IN_SOURCE
    if odd:
        return f"does more than that ({', '.join(sorted(odd))})"
    if any((source.findtext("SourceBand") or "1").strip() != "1" for source in bands[0] if source.tag in _SOURCES):
        return "takes another band than the first"
    return ""


def _numbers(text: str | None) -> tuple[float, ...]:
    try:
        return () if text is None else (float(text),)
    except ValueError:
        return ()


def _rectangle(element: ET.Element | None) -> tuple[int, int, int, int] | None:
    """Return first column and row, and how many of each; None where it is not there, or not of whole cells."""
    if element is None:
        return None
    try:
        numbers = [float(element.get(name, "nan")) for name in ("xOff", "yOff", "xSize", "ySize")]
    except ValueError:
        return None
    if not all(math.isfinite(number) and abs(number - round(number)) < 1e-3 for number in numbers):
        return None
    column, row, columns, rows = (round(number) for number in numbers)
    return column, row, columns, rows
