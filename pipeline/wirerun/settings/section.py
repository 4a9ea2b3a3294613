"""What every section of the config has in common."""

import re
from collections.abc import Sequence
from typing import Annotated, Any, Final, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Discriminator, Field, Tag

_REMOTE: Final = re.compile(r"^(/vsi|[a-z][a-z0-9+.-]*://|[a-z][a-z0-9_]+:)", re.IGNORECASE)


def is_remote(path: str) -> bool:
    """Return whether a geospatial library would take a path for anything but a plain local file."""
    return _REMOTE.match(path) is not None


def _local(path: str) -> str:
    """Refuse anything a geospatial library would open that is not a plain local file."""
    if is_remote(path):
        msg = f"{path!r} is a URL, a virtual path or a connection string; only plain local files are read"
        raise ValueError(msg)
    return path


def name_of_files(paths: str | Sequence[str]) -> str:
    """What a setting of one or several files is called in sentences: the first, and how many more."""
    every = [paths] if isinstance(paths, str) else list(paths)
    return every[0] if len(every) == 1 else f"{every[0]} and {len(every) - 1} more"


LocalPath = Annotated[str, Field(min_length=1, max_length=4096), AfterValidator(_local)]


def _one_or_several(value: object) -> str:
    return SEVERAL if isinstance(value, list | tuple) else ONE


#: Names of the two ways to write a setting of files: pydantic's places have them, sentences to people have not.
ONE, SEVERAL = "(one)", "(several)"
#: The name of a third way: yes or no.
WHETHER = "(whether)"
#: One file, or several of them; a folder counts as its files.
LocalFiles = Annotated[
    Annotated[LocalPath, Tag(ONE)]
    | Annotated[tuple[LocalPath, ...], Field(min_length=1, max_length=5000, strict=False), Tag(SEVERAL)],
    Discriminator(_one_or_several),
]


class Section(BaseModel):
    """A frozen section: unknown keys, numbers in quotes and NaN are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)


class TextRow(Section):
    """A row of a CSV file: cells are text, so numbers are read out of it."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=False, validate_default=True)


def choices(annotation: Any) -> list[str]:  # noqa: ANN401 - any annotation
    """Words that a setting allows, optional or in a list; none where it is no choice."""
    arms = [annotation, *get_args(annotation)]
    return [word for arm in arms for word in get_args(arm) if isinstance(word, str)]
