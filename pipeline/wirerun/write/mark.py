"""The plan's mark: eight signs that tell whether two papers, or a paper and a folder, are of the same plan."""

import hashlib
import json

from wirerun.records import Plan
from wirerun.settings import MachineSettings, ServiceSettings


def plan_mark(plan: Plan) -> str:
    """Return the mark: of the config, and of every file that was read. The same inputs give the same mark.

    How results are written is no part of it, nor in which years blocks are built: the same plan in feet has the same
    mark.

    Parameters
    ----------
    plan : Plan
        Its config and sources.
    """
    # A section that came later and that the config does not use leaves the marks of earlier papers as they are.
    later = {"service": ServiceSettings(), "machines": MachineSettings()}
    unused = {name for name, default in later.items() if getattr(plan.config, name) == default}
    told = {
        # What attributes say of the blocks stands in `blocks`.
        "config": plan.config.model_dump(
            mode="json", exclude={"block": {"attributes"}} | dict.fromkeys({"output", "phases", *unused}, True)
        ),
        "sources": sorted((source.role, source.sha256) for source in plan.sources),
    }
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode("utf-8")).hexdigest()[:8]
