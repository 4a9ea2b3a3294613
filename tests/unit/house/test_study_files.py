"""A study reads anew whatever file a case names otherwise."""

from collections.abc import Iterator

from pydantic import BaseModel
from wirerun.one_case import ASKS_FOR
from wirerun.settings import Config

# They cannot be varied.
NEVER = ("base", "study", "survey")


def settings_of_files(model: type[BaseModel]) -> Iterator[tuple[str, ...]]:
    """Go through the settings that name files: those whose type has the check of a local path in it."""
    for name, field in model.model_fields.items():
        kind = field.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            yield from ((name, *more) for more in settings_of_files(kind))
        elif "_local" in f"{kind!r} {field.metadata}":
            yield (name,)


def test_every_file_is_asked_for() -> None:
    files = [names for names in settings_of_files(Config) if names[0] not in NEVER]
    assert {("block", "boundary"), ("elevation", "raster"), ("rows", "guide"), ("catalogue", "folder")} <= set(files)
    for section, name in files:
        asked = ASKS_FOR.get(section, ())
        assert asked is True or name in asked, f"{section}.{name}"
