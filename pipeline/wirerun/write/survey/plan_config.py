"""The config of the plan that goes on from a survey."""

import os
from pathlib import Path
from typing import Any, Final

import tomli_w

from wirerun.wording import many
from wirerun.write.survey.rows_layer import FOUND_POSTS

# Settings that name files, by their section; paths start from the config's folder, which is another now.
PATHS: Final = {
    "block": ("boundary", "exclusions"),
    "rows": ("keep_ids",),
    "posts": ("points",),
    "catalogue": ("folder",),
    "map": ("orthophoto",),
}
_HEAD: Final = (
    "# Made by `wirerun survey` from {origin}: {what} as they were found.\n"
    "# Look at review.html first; doubtful rows are marked in rows.gpkg. Then: wirerun plan {name}\n"
)
_ABOUT_GROUND: Final = (
    "#\n"
    "# elevation.accuracy_m, correlation_m and unseen_m say how far the ground may be off: one sigma from place to\n"
    "# place, over how many metres errors are alike, and what was smoothed away under the vines. A plan tells by them\n"
    "# how sure a two-way clip is; survey.json has where they come from.\n"
)
_ABOUT_ROWS: Final = "# rows.spacing_m is the distance of the found rows{margins}.\n\n"
_KEPT_ENDS: Final = "; no headland and no side margin: they keep their ends"
_NO_GROUND: Final = (
    "# An orthophoto has no heights. Before you plan, name a raster of the bare ground under [elevation]:\n"
    '#   raster = "ground.tif"\n\n'
)
# Not used by itself: a post that was missed makes a span twice as long, and only a person can say that none was.
_POSTS: Final = (
    "# {posts} that stand were found: {file}. When you have looked at them in review.html, plan on them as they\n"
    "# stand by these settings (standing: none of them is bought or driven again):\n"
    "#   [posts]\n"
    '#   placing = "given"\n'
    '#   points = "{file}"\n'
    "#   [standing]\n"
    "#   posts = true\n\n"
)


def write_plan_config(
    tables: dict[str, Any],
    origin: str,
    folders: tuple[Path, Path],
    draft: Path,
    posts: int = 0,
    *,
    ground: bool = True,
) -> None:
    """Write plan.toml.

    Parameters
    ----------
    tables : dict
        The plan's settings, paths as the survey's config has them.
    origin : str
        The survey's config as given.
    folders : (Path, Path)
        Where that config stands, and where the result will.
    draft : Path
        The folder that is written now.
    posts : int
        How many posts were found.
    ground : bool
        Whether the survey found the ground; else the plan has that of the config, or asks for one.
    """
    start, target = (folder.resolve() for folder in folders)
    moved = {section: _moved(section, values, start, target) for section, values in tables.items()}
    if not ground:
        above = dict(moved.get("elevation", {}))
        if "raster" in above:
            above["raster"] = _from(above["raster"], start, target)
        moved["elevation"] = above
    if isinstance(moved.get("blocks"), dict):
        moved["blocks"] = {
            block_id: {section: _moved(section, values, start, target) for section, values in own.items()}
            for block_id, own in moved["blocks"].items()
        }
    text = _HEAD.format(origin=origin, what="rows and ground" if ground else "rows", name="plan.toml")
    rows = moved.get("rows", {})
    as_found = not rows.get("headland_m") and not rows.get("side_margin_m")
    text += (_ABOUT_GROUND if ground else "#\n") + _ABOUT_ROWS.format(margins=_KEPT_ENDS if as_found else "")
    if not ground and "raster" not in moved["elevation"]:
        text += _NO_GROUND
    if posts:
        text += _POSTS.format(posts=many(posts, "post"), file=FOUND_POSTS)
    text += tomli_w.dumps(moved)
    (draft / "plan.toml").write_text(text, encoding="utf-8", newline="\n")


def _moved(section: str, values: Any, start: Path, target: Path) -> Any:  # noqa: ANN401 - any setting
    if not isinstance(values, dict) or section not in PATHS:
        return values
    return {key: _from(value, start, target) if key in PATHS[section] else value for key, value in values.items()}


def _from(value: Any, start: Path, target: Path) -> Any:  # noqa: ANN401 - a path or a list of them
    """Paths from another folder."""
    if isinstance(value, list):
        return [_from(one, start, target) for one in value]
    return Path(os.path.relpath(start / value, target)).as_posix()
