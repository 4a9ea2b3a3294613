"""No input makes a plan ask the network: a listener on this machine must hear nothing."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from wirerun.errors import Exit

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate

# In a process of its own: a library that asks the network stops every thread of this one until it has its answer.
LISTENER = """
import http.server, sys
class Note(http.server.BaseHTTPRequestHandler):
    def do_GET(self):
        with open(sys.argv[1], "a") as heard:
            heard.write(self.command + " " + self.path + chr(10))
        self.send_error(404)
    do_HEAD = do_GET
    def log_message(self, *_):
        pass
server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Note)
print(server.server_address[1], flush=True)
server.serve_forever()
"""
MAP_SERVICE = """<GDAL_WMS><Service name="TMS"><ServerUrl>{address}/${{z}}/${{x}}/${{y}}.png</ServerUrl></Service>
<DataWindow><UpperLeftX>-1</UpperLeftX><UpperLeftY>1</UpperLeftY><LowerRightX>1</LowerRightX><LowerRightY>-1</LowerRightY>
<SizeX>110</SizeX><SizeY>100</SizeY><TileLevel>0</TileLevel></DataWindow><BandsCount>1</BandsCount></GDAL_WMS>"""


class Listener:
    """A server that notes what it is asked for, and has nothing."""

    def __init__(self, folder: Path) -> None:
        self.notes = folder / "heard.txt"
        command = [sys.executable, "-c", LISTENER, str(self.notes)]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)  # noqa: S603
        assert self.process.stdout is not None
        self.address = f"http://127.0.0.1:{int(self.process.stdout.readline())}"

    @property
    def heard(self) -> list[str]:
        """Return what it was asked for; a request that is under way gets a moment to arrive."""
        time.sleep(0.2)
        return self.notes.read_text().splitlines() if self.notes.exists() else []


@pytest.fixture
def listener(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Listener]:
    """Return a listener."""
    server = Listener(tmp_path_factory.mktemp("listener"))
    yield server
    server.process.terminate()
    server.process.wait()
    if server.process.stdout is not None:
        server.process.stdout.close()


def notes_beside(address: str) -> str:
    """Return a file of notes that names an address as the raster's overviews."""
    return f'<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">{address}</MDI></Metadata></PAMDataset>'


def test_the_listener_hears(listener: Listener) -> None:
    """Or the other tests would prove nothing."""
    with pytest.raises(rasterio.errors.RasterioIOError):
        rasterio.open(f"/vsicurl/{listener.address}/there.tif")
    assert any("/there.tif" in line for line in listener.heard)


@pytest.mark.parametrize("name", ["ground.tif", "photo.tif"])
@pytest.mark.parametrize("end", [".aux.xml", ".ovr", ".msk", ".ovr.aux.xml", ".msk.aux.xml"])
def test_files_beside_a_raster(estate: "Estate", listener: Listener, name: str, end: str) -> None:
    estate.settings["map"] = {"orthophoto": "photo.tif", "orthophoto_px": 200}
    estate.ground(np.full((3, 600, 660), 120, dtype=np.uint8), name="photo.tif", photometric="RGB")
    text = (
        notes_beside(f"{listener.address}/x.tif")
        if end.endswith(".aux.xml")
        else MAP_SERVICE.format(address=listener.address)
    )
    estate.write(f"{name}{end}", text)
    if end.endswith(".msk.aux.xml"):
        size = (600, 660) if name == "photo.tif" else (100, 110)
        estate.ground(np.full(size, 255, dtype=np.uint8), name=f"{name}.msk", driver="GTiff")
    estate.read()
    assert listener.heard == []


@pytest.mark.parametrize("name", ["ground.tif", "photo.tif"])
@pytest.mark.parametrize("scheme", ["", "/vsicurl/"])
def test_a_tag_within_a_raster(estate: "Estate", listener: Listener, name: str, scheme: str) -> None:
    estate.settings["map"] = {"orthophoto": "photo.tif"}
    estate.ground(np.full((3, 100, 110), 120, dtype=np.uint8), name="photo.tif", photometric="RGB")
    with rasterio.open(estate.folder / name, "r+") as raster:
        raster.update_tags(ns="OVERVIEWS", OVERVIEW_FILE=f"{scheme}{listener.address}/y.tif")
    sentences, code = estate.refusal()
    assert code == Exit.BAD_INPUT
    assert sentences == [
        f"{name}: it names another file as its overviews, which is not read; write it anew without them"
    ]
    assert listener.heard == []


def test_a_crs_that_a_boundary_links_to(estate: "Estate", listener: Listener) -> None:
    geometry = json.loads((estate.folder / "block.geojson").read_text())["features"][0]["geometry"]
    for kind, properties in (
        ("link", {"href": f"{listener.address}/crs.wkt", "type": "ogcwkt"}),
        ("url", {"url": f"{listener.address}/crs.wkt"}),
        ("name", {"name": f"{listener.address}/crs.wkt"}),
    ):
        estate.boundary(geometry, crs={"type": kind, "properties": properties})
        sentences, code = estate.refusal()
        assert code == Exit.BAD_INPUT
        assert sentences[0].startswith("block.geojson, crs: ")
    assert listener.heard == []


def test_a_datum_shift_that_would_be_fetched(estate: "Estate", listener: Listener) -> None:
    """With the switch of the projection library on, as a user's environment may have it."""
    corners = [(400_000.0, 300_000.0), (400_080.0, 300_005.0), (400_070.0, 300_050.0)]
    estate.boundary(
        {"type": "Polygon", "coordinates": [[*corners, corners[0]]]},
        crs={"type": "name", "properties": {"name": "EPSG:27700"}},
    )
    utm = Transformer.from_crs("EPSG:27700", "EPSG:32630", always_xy=True)
    east, north = utm.transform(400_000.0, 300_000.0)
    estate.settings["map"] = {"orthophoto": "photo.tif"}
    place = {"transform": rasterio.Affine(2.0, 0.0, 399_900.0, 0.0, -2.0, 300_150.0), "crs": "EPSG:27700"}
    estate.ground(np.full((3, 120, 160), 120, dtype=np.uint8), name="photo.tif", photometric="RGB", **place)
    estate.ground(crs="EPSG:32630", transform=rasterio.Affine(2.0, 0.0, east - 60.0, 0.0, -2.0, north + 120.0))
    environment = {"PROJ_NETWORK": "ON", "PROJ_NETWORK_ENDPOINT": listener.address}
    command = [sys.executable, "-m", "wirerun", "check", str(estate.config())]
    done = subprocess.run(  # noqa: S603
        command, env=os.environ | environment, capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == Exit.GOOD, done.stderr
    assert listener.heard == []
