"""The same bytes wherever a plan is made: options of the libraries in the environment, locale, day and time zone."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.conftest import Estate

BLOCK = [(-70.0, -14.0), (-40.0, -17.0), (-38.0, 10.0), (-66.0, 12.0)]
OPTIONS = {
    "OGR_CURRENT_DATE": "2031-02-03T04:05:06.000Z",
    "OGR_WKT_PRECISION": "3",
    "OGR_SQLITE_JOURNAL": "WAL",
    "OGR_SQLITE_PRAGMA": "page_size=8192",
    "GDAL_DISABLE_READDIR_ON_OPEN": "FALSE",
    "GDAL_PAM_ENABLED": "YES",
    "OSR_DEFAULT_AXIS_MAPPING_STRATEGY": "AUTHORITY_COMPLIANT",
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "any",
    "SOURCE_DATE_EPOCH": "1",
    "PROJ_NETWORK": "ON",
    "TZ": "America/St_Johns",
    "PYTHONHASHSEED": "7",
}
# The locales' alphabet has two letters I, one with a dot and one without.
TURKISH = {"LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8"}


def made(estate: "Estate", name: str, environment: dict[str, str]) -> dict[str, bytes]:
    """Plan in a process of its own and return every file."""
    out = estate.folder / name
    words = [sys.executable, "-m", "wirerun", "plan", str(estate.folder / "estate.toml"), "--out", str(out), "--quiet"]
    words += ["--only", "gis", "--only", "cards", "--formats", "shapefile,geojson,flatgeobuf,kml,gpx,dxf,isoxml"]
    subprocess.run(words, env=os.environ | environment, check=True, capture_output=True)  # noqa: S603 - our own words
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}


def test_options_of_the_environment_are_not_heeded(make_estate: Callable[..., "Estate"]) -> None:
    estate = make_estate(B01=BLOCK)
    estate.command("check")  # writes the config
    plain, other = made(estate, "plain", {}), made(estate, "other", OPTIONS)
    assert plain.keys() == other.keys()
    assert [name for name in plain if plain[name] != other[name]] == []


def test_another_alphabet(make_estate: Callable[..., "Estate"], tmp_path: Path) -> None:
    folder = tmp_path / "locales"
    folder.mkdir()
    try:
        words = ["localedef", "-i", "tr_TR", "-f", "UTF-8", str(folder / "tr_TR.UTF-8")]
        subprocess.run(words, check=True, capture_output=True)  # noqa: S603
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("no Turkish locale can be made here")
    estate = make_estate(B01=BLOCK)
    estate.command("check")
    plain, other = made(estate, "plain", {}), made(estate, "other", TURKISH | {"LOCPATH": str(folder)})
    assert [name for name in plain if plain[name] != other[name]] == []
