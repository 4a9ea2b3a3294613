"""Rules between settings, told all at once and together with the faults of single settings."""

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, Final

from wirerun.settings.layout import ClipSettings, PostSettings, RowSettings
from wirerun.settings.section import Section
from wirerun.settings.service import GROUND_RULES, ServiceSettings
from wirerun.settings.standing import StandingSettings, standing_rules
from wirerun.settings.supply import CoilSettings, WorkSettings
from wirerun.settings.survey import SurveySettings
from wirerun.settings.wire import MOST_WIRES, StateSettings, default_wires
from wirerun.wording import many

# One, and what sums of decimals leave over.
_ALL_OF_IT: Final = 1.0 + 1e-9


def _as_written(section: type[Section], written: object) -> dict[str, Any]:
    """Return a section as written over its defaults; nothing of it where it is no table."""
    defaults = {key: field.default for key, field in section.model_fields.items()}
    return defaults | (dict(written) if isinstance(written, Mapping) else {})


def _numbers(*values: object) -> bool:
    return all(isinstance(value, int | float) and not isinstance(value, bool) for value in values)


def _anchor_rule(rows: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    given = [key for key in ("anchor_lon", "anchor_lat") if rows[key] is not None]
    if len(given) == 1:
        yield "rows", f"anchor_lon and anchor_lat go together; only {given[0]} given"


def _season_rule(states: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    cold, stringing, hot = (states[key] for key in ("cold_c", "stringing_c", "hot_c"))
    if _numbers(cold, stringing, hot) and not cold <= stringing <= hot:
        yield "states", f"cold_c = {cold:g}, stringing_c = {stringing:g} and hot_c = {hot:g} must rise in this order"


def _drop_rule(states: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    clearance, height = states["drop_clearance_m"], states["drop_height_m"]
    if _numbers(clearance, height) and not clearance < height:
        yield "states.drop_clearance_m", f"{clearance:g} is not below drop_height_m = {height:g}"


def _wire_rules(wires: Sequence[Mapping[str, Any]], height_out_m: object) -> Iterator[tuple[str, str]]:
    count = Counter(wire["id"] for wire in wires if isinstance(wire.get("id"), str))
    for twin in sorted(name for name, times in count.items() if times > 1):
        yield "wires", f"{count[twin]} wires have the id {twin!r}; each needs its own"
    for number, wire in enumerate(wires, start=1):
        lifts = wire.get("lifts_m")
        heights = [("height_m", wire.get("height_m"))]
        heights += [("lifts_m", lift) for lift in lifts] if isinstance(lifts, list | tuple) else []
        for key, height in heights:
            if _numbers(height, height_out_m) and height > height_out_m:  # type: ignore[operator]
                own = isinstance(wire.get("id"), str) and count[wire["id"]] == 1
                yield (
                    f"wires.{wire['id'] if own else f'number {number}'}.{key}",
                    f"{height:g} is above the top of the post, posts.height_out_m = {height_out_m:g}",
                )


def _winter_rule(clips: Mapping[str, Any], wires: Sequence[Mapping[str, Any]]) -> Iterator[tuple[str, str]]:
    parked, given = clips["winter_m"], [wire.get("height_m") for wire in wires if wire.get("kind") == "foliage"]
    lowest = min((float(height) for height in given if _numbers(height)), default=math.inf)  # type: ignore[arg-type]
    if _numbers(parked) and parked >= lowest:
        yield "clips.winter_m", f"{parked:g} is not below the lowest foliage wire, at {lowest:g} m"


def _layout_rules(rows: Mapping[str, Any], posts: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    needs = {"parallel": "bearing_deg", "follow": "guide", "given": "lines"}
    wanted = needs.get(str(rows["layout"]))
    if wanted and rows[wanted] is None:
        yield f"rows.{wanted}", f'missing; layout = "{rows["layout"]}" needs it'
    if posts["placing"] == "given" and posts["points"] is None:
        yield "posts.points", 'missing; placing = "given" needs it'
    if posts["align"] == "baseline" and rows["layout"] != "parallel":
        yield "posts.align", f'"baseline" lines posts up across parallel rows; layout is "{rows["layout"]}"'
    least, most, vine = (posts[key] for key in ("min_span_m", "max_span_m", "vine_spacing_m"))
    if posts["placing"] == "fitted" and _numbers(least, most) and least > most:
        yield "posts.min_span_m", f"{least:g} is more than max_span_m = {most:g}"
    if posts["placing"] in ("vine_grid", "fitted") and _numbers(vine, most) and vine > most:
        yield "posts.vine_spacing_m", f"{vine:g} is more than max_span_m = {most:g}; no span would hold a vine"


def _work_rules(work: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    slopes, factors = work["slope_classes_pct"], work["slope_factors"]
    if not (isinstance(slopes, list | tuple) and isinstance(factors, list | tuple) and _numbers(*slopes, *factors)):
        return
    if any(b <= a for a, b in pairwise((0.0, *slopes))):
        yield "work.slope_classes_pct", f"{', '.join(f'{s:g}' for s in slopes)} must be above 0 and rise"
    if any(factor <= 0.0 for factor in factors):
        yield "work.slope_factors", f"{', '.join(f'{f:g}' for f in factors)} must all be above 0"
    if len(factors) != len(slopes) + 1:
        yield (
            "work.slope_factors",
            f"{many(len(factors), 'factor')} for {len(slopes) + 1} slope classes: one more than the slopes",
        )


def _coil_rules(coils: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if coils["in_one_walk"] is True and coils["open"] == 1:
        yield "coils.in_one_walk", "true with coils.open = 1: two lines in one walk come from two open coils"


def _survey_rules(survey: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    least, most = survey["least_spacing_m"], survey["most_spacing_m"]
    if _numbers(least, most) and least >= most:
        yield "survey.least_spacing_m", f"{least:g} is not below most_spacing_m = {most:g}"
    if survey["surface"] is not None and survey["points"] is not None:
        yield "survey", "surface and points are both given; a survey is one or the other"


def _wind_rules(service: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if service["wind_speed_ms"] is None:
        return
    if service["wind_speed_is"] is None:
        yield "service.wind_speed_is", 'missing; say whether wind_speed_ms is a "gust" or the "mean" of ten minutes'
    if service["wind_speed_is"] == "mean" and service["terrain"] is None:
        yield "service.terrain", 'missing; wind_speed_is = "mean" needs it'
    if service["canopy_open"] is None:
        yield "service.canopy_open", "missing; wind_speed_ms needs it"


def _canopy_rule(
    service: Mapping[str, Any], wires: Sequence[Mapping[str, Any]], posts: Mapping[str, Any]
) -> Iterator[tuple[str, str]]:
    heights: list[Any] = [wire.get("height_m") for wire in wires]
    if service["wind_speed_ms"] is None or not heights or not _numbers(*heights, posts["height_out_m"]):
        return
    lowest, out = min(heights), posts["height_out_m"]
    bottom, low = service["canopy_bottom_m"], "canopy_bottom_m"
    if bottom is None:
        bottom, low = lowest, "the lowest wire"
    top, high = service["canopy_top_m"], "canopy_top_m"
    if top is None:
        top, high = out, "posts.height_out_m"
    if _numbers(bottom, top) and not bottom < top:
        yield "service", f"the canopy has no height: it goes from {low}, {bottom:g} m, up to {high}, {top:g} m"


def _service_rules(service: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    yield from _wind_rules(service)
    shares = service["wind_share"]
    if isinstance(shares, Mapping) and _numbers(*shares.values()) and sum(shares.values()) > _ALL_OF_IT:
        yield "service.wind_share", f"{sum(shares.values()):g} together is more than the 1 there is"
    for name, other in (("vibration_class", "smooth_keeps"), ("post_pull_n", "post_pull_at_m")):
        if (service[name] is None) != (service[other] is None):
            there = other if service[name] is None else name
            yield "service", f"{name} and {other} go together; only {there} given"
    for need in GROUND_RULES.get(str(service["post_rule"]), ()):
        if service[need] is None:
            yield f"service.{need}", f'missing; post_rule = "{service["post_rule"]}" needs it'


def broken_rules(written: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return (place, sentence) for every rule between settings that a config breaks.

    Each rule looks at its own few settings and works on a config that has other faults, so that a person reads all of
    them at once. `written` is a config as written: what is missing counts with its default, what has the wrong kind is
    passed over, for the types refuse it.
    """
    posts = _as_written(PostSettings, written.get("posts"))
    given = written.get("wires", [wire.model_dump() for wire in default_wires()])
    wires = [wire for wire in given if isinstance(wire, Mapping)] if isinstance(given, list | tuple) else []
    if len(wires) > MOST_WIRES:  # the types refuse them; what each is worth does not matter then
        wires = []
    rows = _as_written(RowSettings, written.get("rows"))
    service = _as_written(ServiceSettings, written.get("service"))
    return [
        *_layout_rules(rows, posts),
        *_anchor_rule(rows),
        *_season_rule(_as_written(StateSettings, written.get("states"))),
        *_drop_rule(_as_written(StateSettings, written.get("states"))),
        *_wire_rules(wires, posts["height_out_m"]),
        *_winter_rule(_as_written(ClipSettings, written.get("clips")), wires),
        *_work_rules(_as_written(WorkSettings, written.get("work"))),
        *_service_rules(service),
        *_canopy_rule(service, wires, posts),
        *standing_rules(
            _as_written(StandingSettings, written.get("standing")),
            posts,
            wires,
            _as_written(ClipSettings, written.get("clips"))["level_m"],
        ),
        *_coil_rules(_as_written(CoilSettings, written.get("coils"))),
        *_survey_rules(_as_written(SurveySettings, written.get("survey"))),
    ]
