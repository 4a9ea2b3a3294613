"""wirerun: plans the trellis wires of a hillside vineyard block.

==========================================  =========================================================================
``plan(blocks, heights, config)``           plans from a GeoDataFrame, a raster or array, and settings
``plan_file(path)``                         plans what a config file asks for
``load_config(path)``, ``plan_config(c)``   the same in two steps
``Plan``                                    ``tables``, ``findings``, ``missing``, ``write(folder)``, ``map()``
``WirerunError``, ``InputError`` ...        what is raised; the sentences are those of the command
==========================================  =========================================================================

Nothing is written but by ``Plan.write`` and ``Plan.map().save``.
"""

from typing import TYPE_CHECKING, Any

from wirerun.errors import Fault, InputError, MechanicsError, TargetError, WirerunError

if TYPE_CHECKING:
    from wirerun.api import Plan, load_config, plan, plan_config, plan_file
    from wirerun.settings import Config

    __version__: str

_LATER = {"Plan", "load_config", "plan", "plan_config", "plan_file"}

__all__ = [
    "Config",
    "Fault",
    "InputError",
    "MechanicsError",
    "Plan",
    "TargetError",
    "WirerunError",
    "__version__",
    "load_config",
    "plan",
    "plan_config",
    "plan_file",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the name stands for
    """Import on first use: the geospatial libraries take a second, which a bare command line should not pay."""
    if name == "__version__":
        from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415

        try:
            return version("wirerun")
        except PackageNotFoundError:  # run from a folder that nobody installed
            return "0+unknown"
    if name in _LATER:
        from wirerun import api  # noqa: PLC0415

        return getattr(api, name)
    if name == "Config":
        from wirerun.settings import Config  # noqa: PLC0415

        return Config
    msg = f"module 'wirerun' has no attribute {name!r}"
    raise AttributeError(msg)
