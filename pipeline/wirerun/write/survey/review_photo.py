"""Pictures of a survey's orthophoto for the review, and what every picture of it is for the page."""

from typing import Any, Final

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.model.survey import PhotoPicture
from wirerun.records import Grid
from wirerun.surface.greenness import index_of
from wirerun.write.html_map.frames import Picture, make_frames, picture
from wirerun.write.html_map.pictures import picture_data

# Choice: the darkest and brightest are cut off, and the rest spread over all greys.
_CUT: Final = (0.01, 0.99)


def photo_pictures(photo: PhotoPicture, crs_wkt: str, before: int) -> list[dict[str, Any]]:
    """Return the photo and its greenness as pictures for the page; `before` of others stand before them."""
    colours = _spread(photo.bands[:3], photo)  # all alike, or leaves would be no green
    index, known = index_of(photo.bands)
    grey = _spread(np.where(known, index, np.nan)[None], photo)
    name = photo.index_name
    note = "The orthophoto, its contrast stretched."
    return [
        entry("Photo", images(_painted(colours, photo, crs_wkt)), (before,), note, ()),
        entry(
            "Greenness",
            images(_painted(np.concatenate([grey] * 3), photo, crs_wkt)),
            (before + 1,),
            f"{name[:1].upper()}{name[1:]} of the photo, green is bright: rows are looked for in it.",
            (),
        ),
    ]


def _spread(values: FloatArray, photo: PhotoPicture) -> FloatArray:
    """Values of bands as greys, 0 to 255, all by the same stretch; [band, row, column]."""
    some = values[np.isfinite(values) & photo.known]
    low, high = np.quantile(some, _CUT) if some.size else (0.0, 1.0)
    greys = 255.0 * (values - low) / max(float(high - low), 1e-12)
    return np.clip(np.where(np.isfinite(greys), greys, 0.0), 0.0, 255.0)


def _painted(colours: FloatArray, photo: PhotoPicture, crs_wkt: str) -> list[Picture]:
    """Return a picture of red, green and blue in the browser's projection."""
    if not photo.known.any():
        return []
    bands = [
        make_frames((Grid(np.where(photo.known, one, 0.0), photo.known, photo.transform, crs_wkt, ""),))[0]
        for one in colours
    ]
    known = np.isfinite(bands[0].heights)
    painted = np.stack([*(np.where(known, one.heights, 0.0) for one in bands), np.where(known, 255.0, 0.0)])
    return [picture(np.rint(painted).astype(np.uint8), bands[0].transform)]


def entry(
    name: str,
    shown: list[dict[str, Any]],
    shows: tuple[int, ...],
    note: str,
    legend: tuple[()] | list[tuple[str, str, bool]],
) -> dict[str, Any]:
    """Return a picture as the page takes it: its name, images, those shown with it, a sentence, and a legend."""
    entries = [{"colour": colour, "words": words, "striped": striped} for colour, words, striped in legend]
    return {"name": name, "images": shown, "shows": shows, "note": note, "legend": entries}


def images(pictures: tuple[Picture, ...] | list[Picture]) -> list[dict[str, Any]]:
    """Return pictures as the page takes them."""
    return [picture_data("png", one.png, one.edges) for one in pictures]
