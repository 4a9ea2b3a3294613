"""What a survey says of itself: survey.json, and the record of the run, which is written last."""

import json
import math
from pathlib import Path
from typing import Any, Final

from wirerun.model.survey import Survey
from wirerun.records import RECORD_FORMAT
from wirerun.write.record import save_record, versions

_FILLED: Final = (
    "ground under plants and in small holes: the local plane of the bare cells round about (Gaussian of 0.5 m); where "
    "they are too few, of wider ones (1.2, 2.4, 4.8 m), marked in confidence.tif; beyond that there is no ground"
)


def write_report(made: Survey, folder: Path) -> None:
    """Write survey.json and run.json into a folder that holds all the rest."""
    (folder / "survey.json").write_text(report_text(made), encoding="utf-8", newline="\n")
    record = {
        "format": RECORD_FORMAT,
        "kind": "survey",
        "name": made.config.name,
        "inputs": [{"role": one.role, "path": one.path, "sha256": one.sha256} for one in made.sources],
        "config": made.config.model_dump(mode="json", include={"name", "block", "survey"}),
        "versions": versions(),
    }
    save_record(record, folder)


def report_text(made: Survey) -> str:
    """Return survey.json as it is written."""
    return json.dumps(_report(made), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _report(made: Survey) -> dict[str, Any]:
    found = [block for block in made.blocks if block.wave is not None]
    largest = max(found, key=lambda block: sum(row.length_m for row in block.rows), default=None)
    accuracy = made.accuracy
    checked = None if accuracy is None else accuracy.checked
    return {
        "name": made.config.name,
        "accuracy_m": None if accuracy is None else round(accuracy.accuracy_m, 4),
        "correlation_m": None if accuracy is None else accuracy.correlation_m,
        "bearing_deg": round(largest.bearing_deg, 3) if largest else None,
        "spacing_m": round(largest.wave.spacing_m, 4) if largest and largest.wave else None,
        "check_points": None
        if checked is None
        else {
            "n": checked.points,
            "bias_m": _number(checked.bias_m),
            "rmse_m": _number(checked.rmse_m),
            "le90_m": _number(checked.le90_m),
            "spread_m": _number(checked.spread_m),
            "left_out": int((~made.check["used"]).sum()),
        },
        "assumed": [] if accuracy is None else list(accuracy.assumed),
        "filled": None if accuracy is None else _FILLED,
        "cell_m": round(made.cell_m, 4),
        "noise_m": _number(made.noise_m),
        "orthophoto": None if made.photo is None else {"index": made.photo.index_name},
        "cells": made.counts,
        "rows": len(made.rows),
        "doubtful_rows": int(made.rows["doubtful"].sum()) if len(made.rows) else 0,
        "row_length_m": round(float(made.rows["length_m"].sum()), 1) if len(made.rows) else 0.0,
        "posts": len(made.posts),
        "doubtful_posts": int(made.posts["doubtful"].sum()) if len(made.posts) else 0,
        "blocks": [
            {
                "block_id": block.block_id,
                "bearing_deg": _number(block.bearing_deg),
                "spacing_m": None if block.wave is None else round(block.wave.spacing_m, 4),
                "straight": None if block.wave is None else block.wave.straight,
                "turn_deg": None if block.wave is None else round(block.wave.turn_deg, 2),
                "rows": len(block.rows),
                "rows_from": block.seen_in if block.rows else None,
                "trusted_m_in_the_other": _number(block.other_m),
                "posts": int((made.posts["block_id"] == block.block_id).sum()),
                "post_spacing_m": _number(block.span_m),
            }
            for block in made.blocks
        ],
        "findings": [{"level": f.level, "code": f.code, "place": f.place, "message": f.message} for f in made.findings],
    }


def _number(value: float) -> float | None:
    return round(value, 4) if math.isfinite(value) else None
