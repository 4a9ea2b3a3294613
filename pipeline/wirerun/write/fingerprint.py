"""What a block's plan hangs on, in one number: whether it must be planned anew is told by it."""

import hashlib
import json
from dataclasses import fields, is_dataclass
from typing import Any, Final

import numpy as np
from pydantic import BaseModel
from shapely.geometry.base import BaseGeometry

from wirerun.records import Inputs
from wirerun.settings import Config
from wirerun.write.record import versions

# Of no other block, and of nothing that is told by the block's own settings.
_NOT_ITS_OWN: Final[dict[str, Any]] = {"blocks": True, "base": True, "phases": True, "block": {"attributes"}}


def inputs_mark(inputs: Inputs, config: Config, parts: tuple[str, ...]) -> str:
    """SHA-256 of all that one block's plan is made from: a change elsewhere in a file does not change it.

    Parameters
    ----------
    inputs : Inputs
        What was read for the block: its outline, the cells of its window, what was drawn for it, prices.
    config : Config
        The config; of the settings of single blocks only its own count.
    parts : tuple of str
        Which parts are written.
    """
    digest = hashlib.sha256()
    (block,) = inputs.blocks
    own = config.for_block(block.block_id).model_dump(mode="json", exclude=_NOT_ITS_OWN)
    _feed(digest, (json.dumps(own, sort_keys=True), json.dumps(versions(), sort_keys=True), sorted(parts)))
    _feed(digest, (block, inputs.grids, inputs.drawn, inputs.output_crs, inputs.catalogue, inputs.orthophoto))
    _feed(digest, inputs.machine_limits)
    return digest.hexdigest()


def _feed(digest: Any, value: object) -> None:  # noqa: ANN401 - hashlib has no type for it
    """Take a value in: kind and length before what it holds, so that no two values run together."""
    if isinstance(value, np.ndarray):
        _feed(digest, f"{value.dtype.str}{value.shape}")
        digest.update(np.ascontiguousarray(value).data)
    elif isinstance(value, BaseGeometry):
        _feed(digest, value.wkb)
    elif isinstance(value, BaseModel):
        _feed(digest, value.model_dump_json())
    elif is_dataclass(value) and not isinstance(value, type):
        _feed(digest, tuple(getattr(value, each.name) for each in fields(value)))
    elif isinstance(value, list | tuple):
        digest.update(f"[{len(value)}:".encode())
        for each in value:
            _feed(digest, each)
    else:
        raw = value if isinstance(value, bytes) else repr(value).encode()
        digest.update(f"{type(value).__name__}{len(raw)}:".encode())
        digest.update(raw)
