"""What every section of the config has in common."""

import re
from typing import Annotated, Any, Final, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

_REMOTE: Final = re.compile(r"^(/vsi|[a-z][a-z0-9+.-]*://|[a-z][a-z0-9_]+:)", re.IGNORECASE)


def _local(path: str) -> str:
    """Refuse anything a geospatial library would open that is not a plain local file."""
    if _REMOTE.match(path):
        msg = f"{path!r} is a URL, a virtual path or a connection string; only plain local files are read"
        raise ValueError(msg)
    return path


LocalPath = Annotated[str, Field(min_length=1, max_length=4096), AfterValidator(_local)]


class Section(BaseModel):
    """A frozen section: unknown keys, numbers in quotes and NaN are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)


def choices(annotation: Any) -> list[str]:  # noqa: ANN401 - any annotation
    """Words that a setting allows, optional or in a list; none where it is no choice."""
    arms = [annotation, *get_args(annotation)]
    return [word for arm in arms for word in get_args(arm) if isinstance(word, str)]
