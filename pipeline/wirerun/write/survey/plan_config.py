"""The config of the plan that goes on from a survey."""

import os
from pathlib import Path
from typing import Any, Final

import tomli_w

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


def write_plan_config(tables: dict[str, Any], origin: str, folders: tuple[Path, Path], draft: Path) -> None:
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
    """
    start, target = (folder.resolve() for folder in folders)
    moved = {section: _moved(section, values, start, target) for section, values in tables.items()}
    if isinstance(moved.get("blocks"), dict):
        moved["blocks"] = {
            block_id: {section: _moved(section, values, start, target) for section, values in own.items()}
            for block_id, own in moved["blocks"].items()
        }
    text = _HEAD.format(origin=origin, name="plan.toml") + tomli_w.dumps(moved)
    (draft / "plan.toml").write_text(text, encoding="utf-8", newline="\n")


def _moved(section: str, values: Any, start: Path, target: Path) -> Any:  # noqa: ANN401 - any setting
    if not isinstance(values, dict) or section not in PATHS:
        return values
    return {
        key: Path(os.path.relpath(start / value, target)).as_posix() if key in PATHS[section] else value
        for key, value in values.items()
    }
