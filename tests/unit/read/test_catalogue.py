"""The catalogue is read cell by cell as it stands in its files, and the one that comes with the program serves."""

import csv
import datetime as dt
import hashlib
import math
import re
import shutil
from pathlib import Path

import pytest
from wirerun.errors import Faults
from wirerun.read.catalogue import DEFAULT_NAME, default_folder, read_catalogue
from wirerun.records import Source
from wirerun.rules.clip_prices import CHANGE_KIND
from wirerun.rules.look_on_site import COME_BACK, LOOK
from wirerun.settings import AdjusterKind, Catalogue
from wirerun.settings.catalogue import FILES, SEASON_TASKS, TASKS, PostItem, SpareItem
from wirerun.settings.catalogue_row import DEMO
from wirerun.settings.fixing_item import FixingItem

ROOT = Path(__file__).parents[3]
FOLDER = ROOT / "configs" / "catalogue"
PRESS = "The Press, 18 Apr 1980"


def read(given: str | None = None, folder: Path = Path("/nowhere")) -> tuple[Catalogue, tuple[Source, ...]]:
    faults = Faults()
    found = read_catalogue(given, folder, faults)
    faults.stop_if_any()
    return found


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return read()[0]


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    """Return a copy of the default catalogue, to be changed."""
    return Path(shutil.copytree(FOLDER, tmp_path / "mine"))


def test_the_default_is_the_one_of_the_checkout() -> None:
    assert default_folder().resolve() == FOLDER


def test_every_cell_is_read_as_it_stands(catalogue: Catalogue) -> None:
    """The twin: the standard library's dictionary of each line."""
    words = {"yes": True, "no": False}
    for stem in FILES:
        with (FOLDER / f"{stem}.csv").open(encoding="utf-8", newline="") as stream:
            lines = list(csv.DictReader(stream))
        rows = getattr(catalogue, stem)
        assert len(rows) == len(lines) > 0
        for row, line in zip(rows, lines, strict=True):
            assert set(line) == set(type(row).model_fields)
            for name, cell in line.items():
                value = getattr(row, name)
                if isinstance(value, bool):
                    assert value is words[cell]
                elif isinstance(value, float | int):
                    assert value == (float(cell) if cell else type(row).model_fields[name].default)
                elif isinstance(value, dt.date):
                    assert value.isoformat() == cell
                else:
                    assert (value or "") == cell


def test_sources_have_the_fingerprint_of_each_file_and_no_place_of_this_machine(mine: Path) -> None:
    catalogue, sources = read()
    assert catalogue.folder == DEFAULT_NAME
    assert [source.path for source in sources] == [f"{DEFAULT_NAME}/{stem}.csv" for stem in FILES]
    assert {source.role for source in sources} == {"catalogue"}
    for source, stem in zip(sources, FILES, strict=True):
        assert source.sha256 == hashlib.sha256((FOLDER / f"{stem}.csv").read_bytes()).hexdigest()
    same, own = read("mine/", mine.parent)
    assert same == catalogue
    assert own[0] == Source("catalogue", "mine/wire.csv", sources[0].sha256)


def test_ways_to_write_a_file(mine: Path, catalogue: Catalogue) -> None:
    """Byte order mark, line ends of Windows, all cells quoted, columns turned round, blank lines, empty columns."""
    for stem in FILES:
        path = mine / f"{stem}.csv"
        with path.open(encoding="utf-8", newline="") as stream:
            lines = list(csv.reader(stream))
        with path.open("w", encoding="utf-8-sig", newline="") as stream:
            stream.write("\r\n")
            out = csv.writer(stream, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
            for line in lines:
                out.writerow([f" {cell} " for cell in reversed(line)] + ["", ""])
                stream.write("\r\n" + "," * len(line) + "\r\n")
    assert read("mine", mine.parent)[0] == catalogue


def test_columns_that_may_be_empty_may_be_missing(mine: Path) -> None:
    (mine / "wire.csv").write_text(
        "id,diameter_mm,grade,breaking_n,coil_kg,source,date\nthin,2.5,hard,6650,25,an offer,2026-01-02"
    )
    (mine / "rates.csv").write_text("id,per,minutes,source,date\n")
    catalogue = read("mine", mine.parent)[0]
    (wire,) = catalogue.wire
    assert (wire.price, wire.coil_m, catalogue.rates) == (None, None, ())
    # The Press, 18 Apr 1980: 25 kg of 2.5 mm are 648 m.
    assert wire.length_m == pytest.approx(648.0, abs=1.0)


def test_published_figures_are_carried_as_published(catalogue: Catalogue) -> None:
    """The Press, 18 Apr 1980: pull-out tests, lengths of coils, breaking loads."""
    lengths = {w.diameter_mm: w.length_m for w in catalogue.wire if re.search(f"length: [^;]*{PRESS}", w.source)}
    assert lengths == {2.5: 648.0, 4.0: 253.0}
    assert [w.breaking_n for w in catalogue.wire if re.search(f"breaking load: [^;]*{PRESS}", w.source)] == [6650.0]
    pull_out = {
        way: {p.pull_out_n for p in catalogue.posts if f"pull-out: {way}, {PRESS}" in p.source}
        for way in ("dug in", "driven into a pilot hole")
    }
    assert pull_out == {"dug in": {883.0}, "driven into a pilot hole": {8800.0}}


def test_sources_are_publication_and_date_and_the_readme_has_the_rest(catalogue: Catalogue) -> None:
    """Plans print a source beside its price: it says what, where published and when, and names nobody's firm."""
    where = r"(The Press, \d+ \w+ \d{4}|USDA Forest Service, forest inventory|Iowa State University, 2002)"
    published = re.compile(rf"[a-z -]+: ([a-z0-9 %,-]+ )?{where}")
    items = [item for name in FILES for item in getattr(catalogue, name)]
    sources = {part.strip() for item in items for part in item.source.split(";")}
    named = sources - {"invented for the demo", "the rest invented for the demo", "no price invented for the demo"}
    assert len(named) >= 5
    assert [source for source in named if not published.fullmatch(source)] == []
    readme = (FOLDER / "README.md").read_text()
    assert "The Press (" in readme
    assert "18 April 1980" in readme
    assert "USDA Forest Service" in readme


def test_lengths_of_coils_are_what_the_metre_weighs(catalogue: Catalogue) -> None:
    """NZ Ministry of Agriculture & Fisheries, The Press, 1 Jun 1984: 38.58 kg/km of 2.5 mm, 98.81 of 4 mm."""
    for wire in catalogue.wire:
        kg_per_km = {2.5: 38.58, 4.0: 98.81}.get(wire.diameter_mm, 38.58 * (wire.diameter_mm / 2.5) ** 2)
        assert wire.length_m == pytest.approx(1000.0 * wire.coil_kg / kg_per_km, rel=0.005)


def test_every_invented_row_says_so(catalogue: Catalogue) -> None:
    for stem in FILES:
        for row in getattr(catalogue, stem):
            assert DEMO in row.source
            assert row.date == dt.date(2026, 11, 25)


def test_the_default_has_all_that_a_plan_asks_for(catalogue: Catalogue) -> None:
    diameters = [wire.diameter_mm for wire in catalogue.wire]
    assert diameters.count(2.5) >= 2
    assert {2.0, 3.15, 4.0} <= set(diameters)
    for kind in ("end", "intermediate"):
        for height_m in (1.9, 2.2):
            # To a rounding: 2.5 - 0.6 is not 1.9 in binary.
            tall = [p for p in catalogue.posts if p.kind == kind and p.length_m - p.depth_m > height_m - 1e-9]
            assert {"timber"} <= {post.material for post in tall}
    assert {item.id for item in catalogue.rates} == {*TASKS, *SEASON_TASKS, CHANGE_KIND, LOOK, COME_BACK}
    assert [item.id for item in catalogue.spares] == list(SpareItem.model_json_schema()["properties"]["id"]["enum"])
    assert {end.use for end in catalogue.wire_ends} == {"end staple", "tie-off", "join", "end hook"}
    kinds = [
        AdjusterKind(id=a.id, least_mm=a.least_mm, most_mm=a.most_mm, barrel_mm=a.barrel_mm, tail_m=a.tail_m)
        for a in catalogue.adjusters
    ]
    assert [(k.id, k.most_mm, k.barrel_mm, k.tail_m) for k in kinds] == [
        ("wrap-on tie", 150.0, None, 0.3),
        ("winding strainer", 600.0, 25.0, 0.6),
    ]


def holds_n(fixing: FixingItem, post: PostItem) -> float:
    """Return what a fixing holds with the default factors, 5 in timber and 1.5 on letting go.

    Wood Handbook, chapter 8 (coefficients at second hand): 54.12 G^2.5 D L for each leg, 108.25 G^2 D L for each screw.
    """
    lets_go = fixing.lets_go_n / 1.5
    if post.specific_gravity is None:
        return lets_go
    each = {"screw": 108.25 * post.specific_gravity**2, "staple": 2.0 * 54.12 * post.specific_gravity**2.5}
    size = fixing.fastener_diameter_mm * fixing.fastener_length_mm
    return min(lets_go, float(fixing.fasteners * each[fixing.fastener_kind] * size / 5.0))


def cheapest(catalogue: Catalogue, pull_n: float, kinds: str, ways: tuple[str, ...], *, nets: bool) -> str | None:
    post = next(p for p in catalogue.posts if p.kind == "intermediate")
    of_kind = [f for f in catalogue.fixings if kinds in f.kind and f.holds in ways and f.fixes_to == post.material]
    good = [f for f in of_kind if holds_n(f, post) >= pull_n and (f.net_safe or not nets)]
    cost = {f.id: (f.price or math.inf) + f.fasteners * (f.fastener_price or 0.0) for f in good}
    return min(cost, key=lambda name: cost[name], default=None)


@pytest.mark.parametrize(
    ("kinds", "ways", "pulls_n"),
    [("clip", ("down", "both"), (20.0, 100.0, 150.0)), ("clip", ("both",), (40.0, 150.0, 260.0))],
)
def test_the_choice_of_a_clip_hangs_on_the_pull_and_on_nets(
    catalogue: Catalogue, kinds: str, ways: tuple[str, ...], pulls_n: tuple[float, ...]
) -> None:
    """The pulls are those of the sample estate: up to 100 N down on a one-way clip, 260 N on one line at the worst."""
    chosen = [cheapest(catalogue, pull, kinds, ways, nets=False) for pull in pulls_n]
    assert None not in chosen
    assert len(set(chosen)) == len(chosen)
    with_nets = cheapest(catalogue, pulls_n[0], kinds, ways, nets=True)
    assert with_nets not in (None, chosen[0])


def test_a_staple_holds_the_fixed_wire_however_it_is_driven(catalogue: Catalogue) -> None:
    for shank, driven in (("smooth", "hand"), ("ringed", "hand"), ("ringed", "air")):
        only = [f for f in catalogue.fixings if (f.shank, f.driven) == (shank, driven)]
        assert cheapest(Catalogue(fixings=tuple(only), posts=catalogue.posts), 120.0, "staple", ("both",), nets=False)
    assert cheapest(catalogue, 260.0, "formed staple", ("both",), nets=True) is not None


def test_screws_say_how_far_to_drive_them(catalogue: Catalogue) -> None:
    screwed = [f for f in catalogue.fixings if f.fastener_kind == "screw"]
    assert screwed
    assert all("just touches the wood" in fixing.drive_to for fixing in screwed)


def test_the_read_me_of_the_folder_explains_every_column() -> None:
    told = set(re.findall(r"`([a-z_]+)`", (FOLDER / "README.md").read_text("utf-8")))
    for kind in FILES.values():
        assert set(kind.model_fields) <= told
