"""Column names for Shapefiles, which hold ten bytes: one fixed dictionary, so that none changes by chance."""

from typing import Final

from wirerun.errors import TableError
from wirerun.tables import Table

MOST: Final = 10

# Only the columns whose own name is too long; the data dictionary prints them all.
SHORT: Final = {
    "bearing_deg": "bearing",
    "bridged_error_m": "br_err_m",
    "clearance_m": "clear_m",
    "clip_positions": "clip_pos",
    "clip_reason": "clip_why",
    "clip_shift_m": "clip_sh_m",
    "cross_slope_pct": "cross_pct",
    "end_ground_m": "end_gnd_m",
    "end_moment_nm": "end_mom_nm",
    "given_attributes": "given_attr",
    "grade_change_pct": "gr_chg_pct",
    "greatest_grade_change_pct": "max_gc_pct",
    "greatest_pull_up_n": "max_up_n",
    "height_out_m": "h_out_m",
    "horizontal_m": "horiz_m",
    "look_saves_min": "look_min",
    "max_grade_pct": "max_gr_pct",
    "mean_grade_pct": "mean_gr_pc",
    "row_length_m": "row_len_m",
    "run_grade_pct": "run_gr_pct",
    "slope_class": "slope_cls",
    "slope_length_m": "slp_len_m",
    "start_ground_m": "sta_gnd_m",
    "tension_end_n": "t_end_n",
    "tension_start_n": "t_start_n",
    "two_way_posts": "two_way_n",
}


def short_names(table: Table) -> dict[str, str]:
    """Return for each column of a layer its name in a Shapefile.

    Raises
    ------
    TableError
        If a name is too long and not in the dictionary, or two columns would have the same.
    """
    names = {name: SHORT.get(name, name) for name in table.names}
    long = [name for name in names.values() if len(name) > MOST]
    if long or len({name.lower() for name in names.values()}) < len(names):
        msg = f"table {table.name}: no short and unique column name in a Shapefile: {long or sorted(names.values())}"
        raise TableError(msg)
    return names
