"""Settings of a survey of what stands already: its files, what grows there, and what is assumed of its errors."""

from typing import Literal

from pydantic import Field

from wirerun.settings.section import LocalFiles, LocalPath, Section


class SurveySettings(Section):
    """A surface with vines in it, for `wirerun survey`; a plan passes it over."""

    surface: LocalFiles | None = Field(
        None,
        description="Heights of whatever the survey saw, vines and grass included: files as for elevation.raster. "
        "Default: none.",
    )
    surface_crs: str | None = Field(
        None, description="CRS of the surface, only where its files name none. Default: what they say."
    )
    points: LocalPath | None = Field(
        None, description="Point cloud instead of a surface: LAS or LAZ (needs the extra `clouds`). Default: none."
    )
    points_crs: str | None = Field(
        None, description="CRS of the point cloud, only where it names none. Default: what it says."
    )
    height_unit: Literal["m", "ft", "us-ft", "ind-ft"] | None = Field(
        None, description="Unit of the heights, only where the files do not say. Default: what they say."
    )
    orthophoto: LocalPath | None = Field(
        None,
        description="GeoTIFF of the same ground with red, green and blue, and near infrared as a fourth band if it has "
        "one: rows are looked for in it as well, or alone where there are no heights. Default: none.",
    )
    check_points: LocalPath | None = Field(
        None,
        description="Points on bare ground that were measured otherwise: CSV with lon, lat, height, or with E, N, "
        "height in check_points_crs; or a vector file. Default: none.",
    )
    check_points_crs: str | None = Field(
        None, description="CRS of the numbers in a CSV of check points. Default: WGS 84 longitude and latitude."
    )
    check_points_height_unit: Literal["m", "ft", "us-ft", "ind-ft"] | None = Field(
        None, description="Unit of the check points' heights. Default: metres."
    )
    check_points_accuracy_m: float = Field(
        0.02, ge=0.0, le=1.0, description="One sigma of a check point's height, in metres. Default: choice (RTK)."
    )
    canopy_m: float = Field(
        1.2,
        ge=0.2,
        le=5.0,
        description="Widest canopy across a row, in metres; too small a value leaves vines in the ground, too great a "
        "one hardly matters. Default: choice (a hedge of foliage, with shoots that hang out).",
    )
    tree_m: float = Field(
        8.0,
        ge=3.0,
        le=20.0,
        description="Widest crown or roof that is no ground, in metres. Default: choice (a grown olive, a shed).",
    )
    least_cover_pct: float = Field(
        50.0,
        ge=0.0,
        le=100.0,
        description="Share of a block that the survey must have seen, in percent; below it the block is refused. Rows "
        "are found only where it was seen. Default: choice (a survey of less than half a block is of other ground, or "
        "lacks some of its tiles).",
    )
    least_spacing_m: float = Field(
        1.2,
        ge=0.8,
        le=10.0,
        description="Least distance of rows that is looked for, in metres. Default: choice (narrow hand-worked rows).",
    )
    most_spacing_m: float = Field(
        4.2,
        ge=0.8,
        le=10.0,
        description="Greatest distance of rows that is looked for, in metres. Default: choice (wide machines).",
    )
    noise_m: float = Field(
        0.025,
        ge=0.0,
        le=1.0,
        description="Assumed error of the ground from place to place, one sigma, in metres: what the filter leaves of "
        "the survey's noise, some four fifths where that is alike over 2.6 m; check points weigh against it. Default: "
        "choice (a drone survey with RTK, flown low: 3 cm).",
    )
    grass_height_m: float = Field(
        0.04,
        ge=0.0,
        le=0.5,
        description="Mean height of grass and weeds in the alleys when the survey was flown, in metres: taken off the "
        "ground, for nothing in a surface tells it; 0 for bare soil, and for points that are classified. Default: "
        "choice (mown grass).",
    )
    grass_m: float = Field(
        0.02,
        ge=0.0,
        le=1.0,
        description="Assumed error of the ground from grass that is here high and there low, one sigma, in metres. "
        "Default: choice (grass of 4 cm).",
    )
    unseen_m: float = Field(
        0.015,
        ge=0.0,
        le=1.0,
        description="Assumed ground that the filter smooths away, one sigma at a post, in metres; in the plan it is "
        "elevation.unseen_m. Default: choice (1 cm on even hillsides, 2 cm on real lidar ground).",
    )
    long_m: float = Field(
        0.03,
        ge=0.0,
        le=5.0,
        description="Assumed error that moves the ground slowly, over tens of metres (lens, seams), one sigma, in "
        "metres. It moves neighbouring posts alike and is told, not planned with. Default: "
        "choice (a drone survey with RTK).",
    )
    correlation_m: float = Field(
        3.0,
        ge=0.0,
        le=500.0,
        description="Distance at which the correlation of two errors has fallen to 5 %, in metres: the root of the "
        "squares of the survey's own and the filter's, 2.1 m. Default: choice (noise alike over 2.2 m).",
    )
