"""Which format goes where."""

import importlib.util
from collections.abc import Iterable
from pathlib import Path
from typing import assert_never

from wirerun.errors import TargetError
from wirerun.records import Plan
from wirerun.settings.ground import FORMATS, Format
from wirerun.write.gis.gpx import write_gpx
from wirerun.write.gis.isoxml import write_isoxml
from wirerun.write.gis.kml import write_kml
from wirerun.write.gis.layer_files import write_flatgeobuf, write_geojson, write_geoparquet, write_shapefiles
from wirerun.write.gis.staking import write_staking


def check_formats(formats: Iterable[Format]) -> None:
    """Make sure that every format asked for can be written on this machine, before the long work starts.

    Raises
    ------
    TargetError
        If one needs a library that is not installed; says how to get it.
    """
    if "geoparquet" in formats and importlib.util.find_spec("pyarrow") is None:
        msg = 'output.formats: geoparquet needs pyarrow, which is not installed; pip install "wirerun[geoparquet]"'
        raise TargetError(msg)


def write_formats(plan: Plan, folder: Path, formats: Iterable[Format]) -> None:
    """Write the plan in other formats beside the GeoPackage.

    Parameters
    ----------
    plan : Plan
        Geometry in WGS 84.
    folder : Path
        Where `plan.gpkg` goes; made if it is missing. Formats with one file per layer get a folder of their own.
    formats : iterable of Format
        Which ones; the order does not matter.

    Raises
    ------
    TargetError
        If a position cannot be expressed in ``plan.output_crs``, or as `check_formats`.
    """
    wanted = frozenset(formats)
    check_formats(wanted)
    for name in FORMATS:
        if name in wanted:
            _write(plan, folder, name)


def _write(plan: Plan, folder: Path, name: Format) -> None:
    match name:
        case "geojson":
            write_geojson(plan, folder / "geojson")
        case "shapefile":
            write_shapefiles(plan, folder / "shapefile")
        case "flatgeobuf":
            write_flatgeobuf(plan, folder / "flatgeobuf")
        case "kml":
            write_kml(plan, folder / "plan.kml")
        case "gpx":
            write_gpx(plan, folder / "plan.gpx")
        case "dxf":
            # Loading its library takes a third of a second, which only those who want a drawing should wait for.
            from wirerun.write.gis.dxf import write_dxf  # noqa: PLC0415

            write_dxf(plan, folder / "plan.dxf")
        case "geoparquet":
            write_geoparquet(plan, folder / "geoparquet")
        case "staking":
            write_staking(plan, folder / "staking.csv")
        case "isoxml":
            write_isoxml(plan, folder / "TASKDATA" / "TASKDATA.XML")
        case _:
            assert_never(name)
