"""What a plan noticed that a person should know.

A finding is not an error of the program: the plan is finished, and this is what to look at before buying or building.
Every code stands in `CODES` with its level and meaning; the data dictionary is printed from there.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

Level = Literal["note", "warning", "error"]

LEVELS: Final[tuple[Level, ...]] = ("note", "warning", "error")

CODES: Final[dict[str, tuple[Level, str]]] = {
    "block-missing": ("error", "A block could not be planned; nothing of it is in the results."),
    "block-named-by-us": ("note", "The block's own name could not serve as an id, so a number was used."),
    "block-not-printed": ("note", "The field cards cannot print the block's id, and call it by its number."),
    "exclusion-apart": ("note", "An exclusion touches no block."),
    "crs-shift": ("note", "The step between the boundary's datum and the raster's is known only so well."),
    "distorting-crs": ("warning", "Lengths measured in the GIS layers are not those on the ground."),
    "height-unit-assumed": ("note", "The raster does not name its height unit; metres were taken."),
    "height-unit-unsaid": ("warning", "The ground is in feet, the heights name no unit; metres were taken."),
    "height-unit-converted": ("note", "Heights were converted from feet."),
    "ellipsoidal-heights": ("note", "The raster's heights are above the ellipsoid, not above the sea."),
    "sidecar-unread": ("warning", "A file of notes beside the raster says what the raster does not; it is not read."),
    "absent-tiles": ("warning", "Cells in tiles that the raster's file does not hold were taken as empty."),
    "point-cloud": ("note", "How many points a survey has, and which of them make the ground."),
    "survey-voids": ("warning", "Ground of a survey that was filled from farther off, or could not be."),
    "survey-cliff": (
        "warning",
        "The ground of a survey is too steep for a plan somewhere: a fault of it, most likely.",
    ),
    "survey-accuracy": ("note", "How good the ground of a survey is, and how that is known."),
    "survey-bias": ("warning", "The ground of a survey lies off its check points as a whole."),
    "check-points-off": ("warning", "Check points that were left out, and why."),
    "photo-gap": ("warning", "Part of a block is not on the survey's orthophoto."),
    "survey-no-heights": ("warning", "A survey is an orthophoto alone: it gives rows, and no ground to plan on."),
    "rows-found": ("note", "Direction, spacing and number of the rows that a survey found."),
    "rows-doubtful": ("warning", "Found rows to be looked at before use."),
    "rows-not-found": ("warning", "No rows were found in a block of a survey."),
    "posts-found": ("note", "How many posts of an existing trellis a survey found, and how far apart."),
    "posts-doubtful": ("warning", "Found posts to be looked at before use."),
    "posts-not-found": ("note", "No posts of an existing trellis were found in a survey, and why that may be."),
    "undeclared-nodata": ("warning", "Cells with a usual no-data number were taken as empty."),
    "cover-gap": ("warning", "Part of the block has no elevation."),
    "ground-spikes": ("warning", "Cells stand off the ground round them: bushes, posts or faults of the survey."),
    "ground-seam": ("warning", "The ground has a straight step, or tiles of it differ: a seam of the survey."),
    "ground-rounded": ("warning", "Heights are rounded to so coarse a step that loads are off by it."),
    "ground-ridges": ("warning", "The ground has ridges at the rows' spacing: vines or berms are in it."),
    "coarse-ground": ("warning", "The raster's cells are too large to see undulation between posts."),
    "relief": ("note", "The block is so high from foot to head that ground lengths lose their last millimetre."),
    "fitted-saving": ("note", "What fitted posts save against other placings, at the config's prices."),
    "slope-spacing": ("note", "The spacing was measured along the ground; this is what it comes to in plan."),
    "guide-too-tight": ("note", "The guide bends more tightly than a row is away from it; the row has no loop there."),
    "row-kink": ("note", "A row turns sharply at one place because its guide does."),
    "lines-joined": ("note", "Given lines with a small gap between them were joined."),
    "lines-doubled": ("note", "Given lines that lie on another were left out."),
    "lines-turned": ("note", "Given lines that ran against the rest were turned."),
    "lines-meet": ("warning", "Given rows cross, touch or overlap."),
    "lines-outside": ("warning", "Given rows do not enter the block."),
    "lines-lost": ("note", "Given rows enter the block but leave no row in it."),
    "posts-off-rows": ("warning", "Surveyed posts lie too far from every row."),
    "posts-doubled": ("note", "Surveyed posts repeat one another."),
    "stock": ("note", "What is taken out of the stock, and what it is worth; in no total."),
    "stock-short": ("note", "Part coils of the stock that are too short to be cut from."),
    "standing-not-surveyed": ("note", "Posts are taken to stand where the plan would have them."),
    "standing-short": ("warning", "Standing posts are too short for a wire."),
    "standing-off-line": ("warning", "Standing posts are off the line of their neighbours."),
    "standing-fixings-elsewhere": ("warning", "Standing fixings are not where a wire needs them."),
    "standing-one-way": ("warning", "Two-way clips are asked for where fixings stand already."),
    "standing-ends": ("warning", "Standing end posts have to bear new wires too."),
    "rows-without-posts": ("warning", "Rows with fewer than two surveyed posts were left out."),
    "no-rows": ("error", "No row fits into the block."),
    "ids-kept": ("note", "How many rows keep the id of an earlier plan, which are new and which are gone."),
    "ids-not-kept": ("warning", "No row lies where the earlier plan has one, so no id was kept."),
    "rows-dropped": ("note", "Pieces of rows shorter than the least length were left out."),
    "steep-row": ("warning", "A row has a steeper grade between two posts than the limit."),
    "row-left-out": ("warning", "Rows that cannot be planned for want of ground heights are in no table or total."),
    "hole-bridged": ("note", "Holes in the ground were bridged straight along the row."),
    "span-too-long": ("warning", "Rough ground keeps a span longer than the limit, however many posts."),
    "low-clearance": ("warning", "A wire comes closer to the ground than the limit between two posts, or touches it."),
    "strain-from": ("note", "Rows in which friction leaves too little tension at the far end when strained from one."),
    "soft-in-heat": ("note", "A foliage wire is too slack on the hottest day to hold the shoots."),
    "slack-wire": ("warning", "A wire hangs loose in the heat."),
    "unused-positions": ("note", "Clip positions of the config that no wire uses; no clip is bought for them."),
    "lift-load": ("note", "What the posts next to the end posts bear of a lifted wire."),
    "drop-span": ("note", "How many rows drop their wires by themselves, and from which length on level ground."),
    "lift-slack": ("note", "Rows whose wire gets too tight to be lifted by hand, and so gets slack from an adjuster."),
    "lift-too-tight": ("warning", "A wire gets too tight to be lifted by hand, and no adjuster gives it slack."),
    "no-adjuster": ("warning", "No adjuster of the config reaches the take-up a row needs."),
    "post-uplift": ("warning", "The wires may pull a post out of the ground."),
    "strained-unclipped": ("note", "At what tension a wire would end if it were strained before it is in its clips."),
    "knot-overload": ("warning", "A wire gets tighter than its end knot bears."),
    "no-end": ("warning", "The catalogue has no end assembly for rows so long, or for such a pull."),
    "end-posts": ("note", "The greatest pull on an end post; end assemblies are for a competent person to size."),
    "not-in-catalogue": ("warning", "The catalogue has nothing for a wire, post or wire's end of the plan."),
    "demo-prices": ("note", "Prices and holding forces are those that come with the program, invented for the demo."),
    "no-price": ("note", "Items that the catalogue does not price; sums leave them out."),
    "no-rate": ("note", "Tasks for which the catalogue has no minutes; hours leave them out."),
    "crew-too-small": ("warning", "A task needs more people at once than the crew has."),
    "no-fixing": ("warning", "No fixing of the catalogue holds the wire at some posts."),
    "more-kinds": ("note", "More kinds of fixing are taken than the config asks for: fewer do not hold everywhere."),
    "smooth-in-uplift": ("warning", "A smooth staple or nail holds a wire that always pulls out."),
    "coils": ("note", "How many coils, how few were proven possible, and how many joins."),
    "run-too-long": ("warning", "A run is longer than a coil, and joins are not allowed."),
    "zones": ("note", "How many work zones, and how even."),
    "phases": ("note", "How many years the blocks of an estate take by what a year has."),
    "phases-over": ("warning", "Blocks of an estate that no single year has room for, or in no year at all."),
    "measured": ("note", "What was measured takes the place of an assumption."),
    "measured-unsure": ("warning", "Readings that do not tell enough; the assumption stays."),
    "measured-off": ("warning", "Readings that do not go together, or look to be of another unit."),
    "survey-noise": ("warning", "The heights show an error unlike the one that the config says."),
    "survey-verdict": ("note", "What the survey's accuracy leaves open, and what a better one would."),
    "levelled": ("note", "Clips are set off their heights to even out dips; what comes of it."),
    "survey-too-coarse": ("warning", "The survey leaves the clips of many posts open."),
    "clips-by-price": ("note", "From which probability on two-way clips cost less than to come back, by what prices."),
    "sections-apart": (
        "note",
        "Posts between sections keep one-way clips: two-way ones cost more than changing kinds.",
    ),
    "clips-untested": ("note", "What one-way clips hold is not tested; two-way posts by what they may hold."),
    "service-left-out": (
        "note",
        "Loads of service that the config gives no number for.",
    ),
    "service-wind": ("note", "How hard the wind of the config presses on canopy and nets."),
    "service-crop": ("note", "What the crop takes off the wires' pull upwards; no clip is left out for it."),
    "service-fixing": ("warning", "Fixings that do not hold in service by the config's numbers, and what would."),
    "service-knot": ("warning", "A wire gets tighter in service than its end knot bears."),
    "service-moment": ("note", "How hard the wires push posts to the side in service."),
    "service-post": ("warning", "Posts pushed to the side harder than the ground bears by the rule that is chosen."),
    "machine-limit": ("warning", "Rows steeper than a limit that you set for machines."),
    "look-on-site": ("note", "Posts where a two-way clip is not planned but likely enough to be worth a look on site."),
}


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One thing noticed: its code, the place (an id, or a file), and a sentence with the numbers."""

    code: str
    place: str
    message: str

    def __post_init__(self) -> None:
        if self.code not in CODES:
            msg = f"finding code {self.code!r} is not in the list"
            raise KeyError(msg)

    @property
    def level(self) -> Level:
        """Return how much it matters."""
        return CODES[self.code][0]


class Findings(list[Finding]):
    """What the stages of one block noticed, in the order in which they noticed it."""

    def __init__(self, place: str = "") -> None:
        super().__init__()
        self.place = place

    def note(self, code: str, message: str, place: str | None = None) -> None:
        """Keep a finding; it concerns the block unless another place is named."""
        self.append(Finding(code, self.place if place is None else place, message))


class Kind(NamedTuple):
    """All findings of one code: how many, and what each says of which place."""

    level: str
    code: str
    sentences: tuple[str, ...]

    @property
    def meaning(self) -> str:
        """Return what findings of this code are about."""
        return CODES[self.code][1]

    def some(self, most: int) -> list[str]:
        """Return so many of the sentences, then how many more there are."""
        more = len(self.sentences) - most
        return [*self.sentences[:most], *([f"{self.code}: and {more} more like these"] if more > 0 else [])]


def by_code(findings: Iterable[tuple[str, str, str, str]]) -> list[Kind]:
    """Findings (level, code, place, message) by code: errors, then warnings, then notes, else in the order given."""
    kinds: dict[tuple[str, str], list[str]] = {}
    for level, code, place, message in findings:
        kinds.setdefault((level, code), []).append(f"{place}: {message}")
    worst_first = sorted(kinds, key=lambda kind: -LEVELS.index(kind[0]))
    return [Kind(level, code, tuple(kinds[level, code])) for level, code in worst_first]


def name_some(ids: Iterable[str], most: int = 6) -> str:
    """Return the first few ids in words: ``"B01-R001, B01-R002 and 7 more"``."""
    every = list(ids)
    head = ", ".join(every[:most])
    return head if len(every) <= most else f"{head} and {len(every) - most} more"
