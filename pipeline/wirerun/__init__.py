"""wirerun: plans the trellis wires of a hillside vineyard block.

``load_config`` reads a config, ``plan_block`` does the whole job and returns a ``Plan`` of tables; no files written.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wirerun.records import Plan
    from wirerun.run import load_config, plan_block

__all__ = ["Plan", "load_config", "plan_block"]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the name stands for
    """Import on first use: the geospatial libraries take a second, which a bare command line should not pay."""
    if name == "Plan":
        from wirerun.records import Plan  # noqa: PLC0415

        return Plan
    if name in __all__:
        from wirerun import run  # noqa: PLC0415

        return getattr(run, name)
    msg = f"module 'wirerun' has no attribute {name!r}"
    raise AttributeError(msg)
