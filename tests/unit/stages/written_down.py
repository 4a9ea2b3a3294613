"""Small plans as a person writes them down, in tables, handed to hours and materials as the values that these take."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from wirerun import tables
from wirerun.arrays import no_words, numbered, words
from wirerun.findings import Finding
from wirerun.model.coils import CoilOptions, CoilPieces, CoilPlan, WireLines
from wirerun.model.row_work import RowWork
from wirerun.model.to_build import ToBuild
from wirerun.records import Stock
from wirerun.result.material_tables import material_table, zone_material_table
from wirerun.result.to_build import place_of, to_build
from wirerun.settings import Catalogue, Config, WorkSettings
from wirerun.stages.takeoff.materials import list_materials
from wirerun.stages.work.labour import row_work

_Cells = dict[str, str | float | None]
_ROWS: _Cells = {
    "block_id": "B01",
    "slope_pct": 0.0,
    "length_m": 100.0,
    "slope_length_m": 100.0,
    "zone_id": "Z01",
}
_ASIDE: dict[str, _Cells] = {
    "posts": {"end_item": None, "standing": "no"},
    "clips": {"wire_id": "lower", "clip": "two-way", "seat": None, "standing_pieces": 0},
    "wires": {"wire_item": "thin", "tails_m_per_line": 0.0, "ends_move": "no", "standing": "no"},
    "adjusters": {"wire_id": "lower", "standing": "no"},
}


@dataclass(frozen=True, slots=True)
class Planned:
    """Tables of a plan; what a test does not care about may lack."""

    rows: pd.DataFrame
    posts: pd.DataFrame
    clips: pd.DataFrame
    wires: pd.DataFrame
    adjusters: pd.DataFrame
    coils: pd.DataFrame

    def job(self, work: WorkSettings, config: Config | None = None) -> ToBuild:
        """Return what is to be built, the rest filled in."""
        filled = {name: _with(getattr(self, name), aside) for name, aside in _ASIDE.items()}
        wires = filled["wires"]
        if "run_out_m" not in wires:
            wires["run_out_m"] = wires["lines"] * (wires["cut_m_per_line"] + wires["tails_m_per_line"])
        if "cut_m_per_line" not in wires:
            wires["cut_m_per_line"] = wires["run_out_m"] / wires["lines"]
        thick = {wire.id: wire.diameter_mm for wire in config.wires} if config else {}
        ids = dict.fromkeys([*wires["wire_id"], *thick])
        given = [
            {"id": name, "kind": "fixed", "height_m": 0.5 + 0.01 * at, "diameter_mm": thick.get(name, 2.5)}
            for at, name in enumerate(ids)
        ]
        written: dict[str, Any] = {
            "name": "small",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 90.0, "spacing_m": 2.4},
        }
        whole = Config.model_validate(written | ({"wires": given} if given else {}))
        return to_build(filled | {"rows": _with(self.rows, _ROWS)}, whole.model_copy(update={"work": work}))

    def cut(self) -> CoilPlan:
        """Return what is cut from which coil, from the table of it."""
        coils = self.coils.assign(at=range(len(self.coils)))
        aside: _Cells = {
            "line": 1,
            "from_m": 0.0,
            "to_m": 1.0,
            "coil_m": 1.0,
            "wire_item": "thin",
            "remainder_usable": "no",
        }
        coils = _with(coils, aside | {"carried": "no", "part": -1, "with_line": np.nan})
        if "whole_m" not in coils:
            coils["whole_m"] = coils["coil_m"]
        if "coil_id" not in coils:
            coils["coil_id"] = coils["at"].astype("str")
        line, lines = numbered(*(coils[name].to_numpy(dtype=object) for name in ("row_id", "wire_id", "line")))
        order = np.argsort(line, kind="stable")
        coils, line = coils.iloc[order], line[order]
        first = np.flatnonzero(np.diff(line, prepend=-1))
        coil = pd.Index(sorted(set(coils["coil_id"]))).get_indexer(coils["coil_id"])
        at = np.unique(coil, return_index=True)[1]
        count, none = len(lines), np.zeros(0, dtype=np.int64)
        return CoilPlan(
            lines=WireLines(
                item=words(coils["wire_item"].iloc[first]),
                row=place_of(self.rows, coils["row_id"].iloc[first]),
                row_id=words(row for row, _, _ in lines),
                wire_id=words(wire for _, wire, _ in lines),
                number=np.array([number for *_, number in lines], dtype=np.int64),
                length_mm=np.ones(count, dtype=np.int64),
                tail_m=np.zeros(count),
                block=np.zeros(count, dtype=np.int64),
                zone=np.zeros(count, dtype=np.int64),
                slope_factor=np.ones(count),
            ),
            pieces=CoilPieces(
                line=line,
                coil=np.asarray(coil, dtype=np.int64),
                from_mm=_mm(coils["from_m"]),
                to_mm=_mm(coils["to_m"]),
                carried=np.asarray(coils["carried"] == "yes", dtype=np.bool_),
                with_line=coils["with_line"].fillna(0).to_numpy(dtype=np.int64),
                join_m=np.full(len(coils), np.nan),
                join_span=no_words(len(coils)),
            ),
            item=words(coils["wire_item"].iloc[at]),
            coil_mm=_mm(coils["coil_m"].iloc[at]),
            whole_mm=_mm(coils["whole_m"].iloc[at]),
            part=coils["part"].iloc[at].to_numpy(dtype=np.int64),
            kept=np.asarray(coils["remainder_usable"].iloc[at] == "yes", dtype=np.bool_),
            options=CoilOptions(
                item=words([]),
                way=words([]),
                coils=none,
                joins=none,
                most_open=none,
                most_in_a_zone=none,
                trips=none,
                cost=np.zeros(0),
                least_cost=np.zeros(0),
                chosen=np.zeros(0, dtype=np.bool_),
            ),
        )


def materials_of(
    planned: Planned, config: Config, catalogue: Catalogue, stock: Stock | None = None
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    """Return order list and loads as tables, and what was said."""
    zone, names = numbered(planned.rows["zone_id"].to_numpy(dtype=object))
    job = planned.job(config.work, config)
    made, loads, findings = list_materials(job, zone, planned.cut(), config, catalogue, stock)
    return material_table(made, ""), zone_material_table(loads, words(name for (name,) in names)), findings


def work_of(planned: Planned, catalogue: Catalogue, work: WorkSettings) -> tuple[pd.DataFrame, list[Finding]]:
    """Return the work in every row as a table, and what was said."""
    done, findings = row_work(planned.job(work), planned.cut(), catalogue, work)
    return work_table(done, planned.rows), findings


def work_table(done: RowWork, rows: pd.DataFrame) -> pd.DataFrame:
    """Return the work in every row as a table."""
    names = ("step", "task", "quantity", "unit", "hours", "people", "tools")
    of_row = rows["row_id"].to_numpy(dtype=object)[done.row]
    return pd.DataFrame({"row_id": of_row} | {name: getattr(done, name) for name in names})


def nothing() -> Planned:
    """Return a plan without rows."""
    return Planned(**{name: tables.empty(tables.TABLES[name]) for name in Planned.__dataclass_fields__})


def _with(frame: pd.DataFrame, aside: _Cells) -> pd.DataFrame:
    return frame.assign(**{name: value for name, value in aside.items() if name not in frame})


def _mm(metres: pd.Series) -> Any:  # noqa: ANN401 - whole millimetres as an array
    return np.rint(1000.0 * metres.to_numpy(dtype=np.float64)).astype(np.int64)
