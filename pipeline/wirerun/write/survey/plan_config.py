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
    "# Made by `wirerun survey` from {origin}: rows and ground as they were found. Look at review.html first;\n"
    "# doubtful rows are in rows.gpkg. Then: wirerun plan {name}\n\n"
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
    tables: dict[str, Any], origin: str, folders: tuple[Path, Path], draft: Path, posts: int = 0
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
    """
    start, target = (folder.resolve() for folder in folders)
    moved = {section: _moved(section, values, start, target) for section, values in tables.items()}
    if isinstance(moved.get("blocks"), dict):
        moved["blocks"] = {
            block_id: {section: _moved(section, values, start, target) for section, values in own.items()}
            for block_id, own in moved["blocks"].items()
        }
    text = _HEAD.format(origin=origin, name="plan.toml")
    if posts:
        text += _POSTS.format(posts=many(posts, "post"), file=FOUND_POSTS)
    text += tomli_w.dumps(moved)
    (draft / "plan.toml").write_text(text, encoding="utf-8", newline="\n")


def _moved(section: str, values: Any, start: Path, target: Path) -> Any:  # noqa: ANN401 - any setting
    if not isinstance(values, dict) or section not in PATHS:
        return values
    return {
        key: Path(os.path.relpath(start / value, target)).as_posix() if key in PATHS[section] else value
        for key, value in values.items()
    }
