"""The page to review a survey with: surface, ground, difference, rows, voids and check points on one map.

Like the plan's map it is one file that opens from disk and asks nobody for anything; its data is inert text.
"""

import json
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import FloatArray
from wirerun.model.survey import BlockRows, Survey
from wirerun.records import Grid
from wirerun.surface.ground_filter import LEAST_SUPPORT
from wirerun.surface.preview import CONFIDENCE, DIFFERENCE, GROUND, REACH, SURFACE, Preview
from wirerun.tables import as_lines
from wirerun.wording import many
from wirerun.write.colours import rgb
from wirerun.write.html_map.backdrop import shade
from wirerun.write.html_map.frames import Picture, make_frames, picture
from wirerun.write.html_map.modules import joined
from wirerun.write.survey.review_photo import entry, images, photo_pictures

# Heights over the ground [m], and their colours: pale to dark, so that they read without hue, blue for what is below.
_STEPS_M: Final = (-0.1, 0.1, 0.3, 0.6, 1.2, 2.5)
_COLOURS: Final = ("#0072b2", "", "#e9dfb2", "#c4b25a", "#8a8a2d", "#4f5f1f", "#23301a")
_THIN, _FILLED, _VOID = "#f3cf9a", "#d55e00", "#ffffff"
_STRIPES_PX: Final = 8
_FINE_M, _CALM_M = 0.25, 0.6  # widths that are averaged before shading: choice
_SEVEN: Final = 7  # decimals of a degree: a centimetre

_NAMES: Final = ("Surface", "Ground", "Difference", "Confidence")


def write_review(made: Survey, path: Path) -> None:
    """Write the page, the same bytes for the same survey."""
    # folium takes more than half a second to import.
    from wirerun.write.html_map.plan_map import PlanMap  # noqa: PLC0415
    from wirerun.write.survey.review_layer import OVER_MAP, ReviewLayer, page_file  # noqa: PLC0415

    west, south, east, north = made.areas.total_bounds.tolist()
    data = json.dumps(_data(made), ensure_ascii=False, allow_nan=False).replace("<", "\\u003c")
    layer = ReviewLayer(data, joined("review.js", page_file, "ReviewMap"), [[south, west], [north, east]])
    title = f"{made.config.name}: review of the survey"
    PlanMap(layer, title, over_map=OVER_MAP, called="Map of the survey").save(path)


def _data(made: Survey) -> dict[str, Any]:
    return {
        "name": made.config.name,
        "words": _words(made),
        "first": _first(made),
        "pictures": _pictures_of(made),
        "outlines": [_rings(area) for area in made.areas.geometry],
        "rows": _rows(made),
        "posts": _posts(made),
        "points": [
            {
                "at": [round(point.y, _SEVEN), round(point.x, _SEVEN)],
                "used": bool(used),
                "words": f"{name}: no ground there"
                if not np.isfinite(off)
                else f"{name}: ground {off:+.3f} m{'' if used else ', left out'}",
            }
            for name, off, used, point in (
                made.check[["name", "off_m", "used", "geometry"]].itertuples(index=False) if len(made.check) else ()
            )
        ],
        "accuracy": _accuracy(made),
        "assumed": [] if made.accuracy is None else list(made.accuracy.assumed),
        "blocks": [
            (name, value)
            for block in made.blocks
            for name, value in (
                (f"{block.block_id}: rows", str(len(block.rows))),
                *(
                    ()
                    if block.wave is None
                    else (
                        ("spacing", f"{block.wave.spacing_m:.3f} m"),
                        ("bearing", f"{block.bearing_deg:.2f} deg"),
                        ("turns by", "straight" if block.wave.straight else f"{block.wave.turn_deg:.0f} deg"),
                    )
                ),
                *_post_facts(made, block),
            )
        ],
        "findings": [{"level": f.level, "place": f.place, "message": f.message} for f in made.findings],
    }


def _words(made: Survey) -> str:
    """Return what the map shows, for those who do not see it."""
    parts = [many(len(made.rows), "row"), many(len(made.posts), "post"), many(len(made.check), "check point")]
    doubtful = sum(int(frame["doubtful"].sum()) for frame in (made.rows, made.posts) if len(frame))
    return f"{', '.join(parts)} over a picture of the survey. The panel lists the {doubtful} that are doubtful."


def _rows(made: Survey) -> list[dict[str, Any]]:
    if not len(made.rows):
        return []
    frame = made.rows.to_crs("EPSG:4326")
    said = []
    for row in as_lines(frame):
        title = f"{row['block_id']} row {row['row']}: confidence {100.0 * row['confidence']:.0f} %"
        said.append(
            {
                "line": [
                    [round(lat, _SEVEN), round(lon, _SEVEN)] for lon, lat in shapely.get_coordinates(row["geometry"])
                ],
                "doubtful": bool(row["doubtful"]),
                "title": f"{title}{', ' if row['why'] else ''}{row['why']}",
                "words": f"{title}. {row['length_m']:.1f} m at {row['bearing_deg']:.1f} degrees; a canopy stands on "
                f"{100.0 * row['present']:.0f} % of it, the longest gap is {row['longest_gap_m']:.1f} m."
                f"{' To look at: ' if row['why'] else ''}{row['why']}{'.' if row['why'] else ''}",
            }
        )
    return said


def _posts(made: Survey) -> list[dict[str, Any]]:
    if not len(made.posts):
        return []
    said = []
    for post in as_lines(made.posts.to_crs("EPSG:4326")):
        title = f"{post['block_id']} post {post['name']}: confidence {100.0 * post['confidence']:.0f} %"
        said.append(
            {
                "at": [round(post["geometry"].y, _SEVEN), round(post["geometry"].x, _SEVEN)],
                "doubtful": bool(post["doubtful"]),
                "title": title,
                "words": f"{title}. As the survey saw it, {post['proud_m']:.2f} m over its row and "
                f"{post['seen_m']:.2f} m over the ground; it blurs posts, and they are higher.",
            }
        )
    return said


def _post_facts(made: Survey, block: BlockRows) -> tuple[tuple[str, str], ...]:
    count = int((made.posts["block_id"] == block.block_id).sum())
    return (("posts", str(count)), ("most of them apart", f"{block.span_m:.2f} m")) if count else ()


def _accuracy(made: Survey) -> list[tuple[str, str]]:
    accuracy, cells = made.accuracy, sum(made.counts.values())
    if accuracy is None:
        return [("heights", "none: an orthophoto alone")]
    said = [
        ("error, place to place (accuracy_m)", f"{accuracy.accuracy_m:.3f} m"),
        ("alike over (correlation_m)", f"{accuracy.correlation_m:g} m"),
        ("smoothed away under vines (unseen_m)", f"{made.config.survey.unseen_m:.3f} m"),
        ("slow error, not in the plan", f"{accuracy.slow_m:.3f} m"),
    ]
    if accuracy.checked is not None:
        checked = accuracy.checked
        said += [
            ("check points", str(checked.points)),
            ("bias", f"{checked.bias_m:+.3f} m"),
            ("RMSE", f"{checked.rmse_m:.3f} m"),
            ("LE90", f"{checked.le90_m:.3f} m"),
        ]
    names = {"seen": "seen bare", "filled": "filled from farther off", "void": "no ground"}
    said += [(words, f"{100.0 * made.counts[name] / max(cells, 1):.1f} %") for name, words in names.items()]
    return said


def _rings(area: BaseGeometry) -> list[list[list[float]]]:
    parts = shapely.get_parts(area)
    return [
        [[round(lat, _SEVEN), round(lon, _SEVEN)] for lon, lat in ring.coords]
        for part in parts
        for ring in (part.exterior, *part.interiors)
    ]


def _first(made: Survey) -> int:
    """Return which picture is shown first: the one that the rows were found in."""
    if made.preview is None:
        return 0
    in_photo = any(block.seen_in == "orthophoto" and block.rows for block in made.blocks)
    if in_photo:
        return len(_NAMES)
    return _NAMES.index("Difference") if len(made.rows) else 1


def _pictures_of(made: Survey) -> list[dict[str, Any]]:
    """Return what can lie under the rows, of heights and of the photo; each shows pictures by their place in all."""
    heights = [] if made.preview is None else _pictures(made.preview, made.crs_wkt)
    return heights if made.photo is None else heights + photo_pictures(made.photo, made.crs_wkt, len(heights))


def _pictures(preview: Preview, crs_wkt: str) -> list[dict[str, Any]]:
    """Return what can lie under the rows: a name, pictures, which of them are shown, a sentence and a legend."""
    # Vines are to be seen in the one, and what is left of them in the other.
    surface, ground = (
        [shade(frame, over_m) for frame in make_frames((_grid(preview, layer, crs_wkt),))]
        for layer, over_m in ((SURFACE, _FINE_M), (GROUND, _CALM_M))
    )
    difference = [
        picture(_painted(frame.heights), frame.transform)
        for frame in make_frames((_grid(preview, DIFFERENCE, crs_wkt),))
    ]
    how = [_how(preview, crs_wkt)]
    steps = [
        f"{'under' if place == 0 else 'over'} {limit:g} m" if place in (0, len(_STEPS_M)) else f"{low:g} to {limit:g} m"
        for place, (low, limit) in enumerate(zip((0.0, *_STEPS_M), (*_STEPS_M, _STEPS_M[-1]), strict=True))
    ]
    return [
        entry("Surface", images(surface), (0,), "What the survey saw, vines included, lit from above.", ()),
        entry("Ground", images(ground), (1,), "What is left when plants are taken out, lit from above.", ()),
        entry(
            "Difference",
            images(difference),
            (1, 2),
            "How far the surface is over the ground. Blue in the alleys means that the ground was made too high.",
            [(colour, words, False) for colour, words in zip(_COLOURS, steps, strict=True) if colour],
        ),
        entry(
            "Confidence",
            images(how),
            (1, 3),
            "Where the ground stands on bare cells close by nothing is drawn over it.",
            [
                (_THIN, "on few bare cells", False),
                (_FILLED, "filled from 1.2 m or farther off", False),
                (_VOID, "no ground", True),
            ],
        ),
    ]


def _grid(preview: Preview, layer: int, crs_wkt: str) -> Grid:
    values = preview.layers[layer]
    known = np.isfinite(values)
    return Grid(np.where(known, values, 0.0), known, preview.transform, crs_wkt, "")


def _painted(height_m: FloatArray) -> NDArray[np.uint8]:
    """Return heights over the ground in their colours, see-through where little is to tell; [band, row, column]."""
    known = np.isfinite(height_m)
    place = np.searchsorted(_STEPS_M, np.where(known, height_m, 0.0), side="right")
    colours = np.array([[*rgb(colour), 235] if colour else [255, 255, 255, 0] for colour in _COLOURS], dtype=np.uint8)
    painted = np.where(known[..., None], colours[place], np.uint8(0))
    return np.ascontiguousarray(np.moveaxis(painted, -1, 0))


def _how(preview: Preview, crs_wkt: str) -> Picture:
    """Return where the ground comes from: see-through where it was seen, pale, dark where filled, striped voids."""
    whole = np.isfinite(preview.layers[CONFIDENCE])
    confidence = np.where(whole, preview.layers[CONFIDENCE], 1.0)
    reach = np.where(whole, preview.layers[REACH], 1.0)
    # 0 seen, 1 thin, 2 filled, 3 void
    kind = np.where(confidence < LEAST_SUPPORT, np.where(reach == 0.0, 3.0, 2.0), np.where(confidence < 0.3, 1.0, 0.0))
    (frame,) = make_frames((Grid(kind, whole, preview.transform, crs_wkt, ""),))
    known = np.isfinite(frame.heights)
    nearest = np.where(known, np.rint(frame.heights), 0.0).astype(int)
    colours = np.array(
        [[255, 255, 255, 0], [*rgb(_THIN), 220], [*rgb(_FILLED), 230], [*rgb(_VOID), 255]], dtype=np.uint8
    )
    painted = colours[nearest]
    row, column = np.indices(nearest.shape)
    painted[(nearest == 3) & ((row + column) % _STRIPES_PX < 3)] = (0, 0, 0, 255)
    return picture(np.ascontiguousarray(np.moveaxis(painted, -1, 0)), frame.transform)
