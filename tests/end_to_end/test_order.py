"""The order of the sample estate traced from the files alone, as a buyer with a spreadsheet would.

Each count stands on another table: posts x positions = clips, rows x lines = runs, metres to coils, zones to the whole.
"""

import math
import re
import subprocess
import sys
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pandas as pd
import pytest
from wirerun.tables import as_lines

ROOT = Path(__file__).parents[2]
CATALOGUE = ROOT / "configs" / "catalogue"
LINES = {"fruiting": 1, "lower": 2, "upper": 2}
EVERY_LINE = 5


@pytest.fixture(scope="module")
def csv(tmp_path_factory: pytest.TempPathFactory) -> dict[str, pd.DataFrame]:
    folder = tmp_path_factory.mktemp("order") / "encosta-nova"
    config = ROOT / "configs" / "encosta_nova.toml"
    command = [sys.executable, "-m", "wirerun", "plan", str(config), "--out", str(folder), "--only", "schedule"]
    done = subprocess.run([*command, "--quiet"], cwd=ROOT, capture_output=True, text=True, check=False)  # noqa: S603
    assert done.returncode == 0, done.stderr
    assert {path.name for path in folder.iterdir()} == {
        "schedule",
        "run.json",
        "data_dictionary.md",
        "data_dictionary.csv",
    }
    files = [*(folder / "schedule").glob("*.csv"), *((CATALOGUE / f"{n}.csv") for n in ("spares", "rates"))]
    tables = {path.stem: pd.read_csv(path, encoding="utf-8-sig") for path in files}
    for name in ("fixings", "posts", "adjusters", "wire", "wire_ends"):
        tables[f"catalogue of {name}"] = pd.read_csv(CATALOGUE / f"{name}.csv").set_index("id")
    return tables


def ordered(csv: dict[str, pd.DataFrame], kind: str) -> pd.Series:
    materials = csv["materials"]
    return materials[materials["kind"] == kind].set_index("item")["quantity"]


def test_posts_are_ordered_one_by_one(csv: dict[str, pd.DataFrame]) -> None:
    posts, rows, items = csv["posts"], csv["rows"], csv["catalogue of posts"]
    assert ordered(csv, "post").sum() == len(posts) == rows["posts"].sum()
    assert ordered(csv, "post").to_dict() == posts["post_item"].value_counts().to_dict()
    kinds = posts["post_item"].map(items["kind"])
    assert (kinds == posts["kind"]).all()
    assert (kinds == "end").sum() == 2 * len(rows)
    out = posts["post_item"].map(items["length_m"] - items["depth_m"])
    assert (out >= posts["height_out_m"] - 1e-9).all()


def test_posts_times_positions_are_clips(csv: dict[str, pd.DataFrame]) -> None:
    posts, clips, fixings = csv["posts"], csv["clips"], csv["catalogue of fixings"]
    middle = posts[posts["kind"] == "intermediate"]
    clipped = clips[clips["wire_id"] != "fruiting"]
    # Clips at 1.20, 1.45 and 1.70 m, one on each side of the post; the lower wire is lifted into those at 1.45 m.
    assert (middle["clip_positions"] == 3).all()
    assert clipped["pieces"].sum() == len(middle) * 3 * 2
    assert clipped.groupby("post_id")["positions"].sum().eq(3).all()
    uses = clips.groupby("wire_id")["uses"].unique().map(list).to_dict()
    assert uses["lower"] == ["1.20 strung, 1.45 lifted (upper)"]
    assert uses["upper"] == ["1.45 strung, 1.70 lifted"]
    assert (clips["pieces"] == clips["positions"] * clips["wire_id"].map(LINES)).all()
    # Clips where the need is one-way, staples that let go of the wire where it is two-way or the clip would not hold.
    kinds = clips["fixing"].map(fixings["kind"]).str.endswith("staple")
    assert ordered(csv, "clip").to_dict() == clips[~kinds].groupby("fixing")["pieces"].sum().to_dict()
    assert ordered(csv, "staple").to_dict() == clips[kinds].groupby("fixing")["pieces"].sum().to_dict()
    assert clips.loc[clips["wire_id"] == "fruiting", "pieces"].sum() == len(middle)
    # Screws and staples that hold the clips.
    each = clips.assign(fastener=clips["fixing"].map(fixings["fastener"]), n=clips["fixing"].map(fixings["fasteners"]))
    bought = each[each["fastener"].notna()]
    assert (
        ordered(csv, "fastener").to_dict()
        == (bought["pieces"] * bought["n"]).groupby(bought["fastener"]).sum().to_dict()
    )


def test_the_choice_of_fixings_is_the_cheapest_pair_that_holds(csv: dict[str, pd.DataFrame]) -> None:
    """Counted anew from clips and catalogue: the chosen option's pieces and price, and that no other is cheaper."""
    options, clips, fixings = csv["fixing_options"], csv["clips"], csv["catalogue of fixings"]
    clips["block_id"] = clips["row_id"].str[:3]
    price = fixings["price"] + fixings["fasteners"] * fixings["fastener_price"].fillna(0.0)
    for (block, holder), ours in options[options["block_id"].notna()].groupby(["block_id", "holder"]):
        mine = clips[(clips["block_id"] == block) & ((clips["clip"] == "staple") == (holder == "staple"))]
        (chosen,) = as_lines(ours[ours["chosen"] == "yes"])
        counted = mine.groupby("fixing")["pieces"].sum()
        assert dict(zip(chosen["kinds"].split(" + "), map(int, chosen["pieces_each"].split(" + ")), strict=True)) == (
            counted.to_dict()
        )
        assert chosen["price"] == pytest.approx((counted * price[counted.index]).sum(), abs=0.006)
        assert chosen["not_held"] == 0
        assert len(counted) <= 2
        assert (ours.loc[ours["not_held"] == 0, "cost_per_ha"] >= chosen["cost_per_ha"]).all()
    # Hours of all: those of the programme, less a walk along each side of every row at 50 m/min.
    hours = options[options["block_id"].isna() & (options["chosen"] == "yes")]["hours"].sum()
    tasks = csv["programme"].groupby("task")["hours"].sum()
    slope = csv["rows"]["slope_class"].map({"0-10 %": 1.0, "10-20 %": 1.15, "20-30 %": 1.35, "30 % and over": 1.6})
    walked = (2.0 * csv["rows"]["slope_length_m"] / 50.0 / 60.0 * slope).sum()
    assert tasks["clips and staples"] + tasks["drive home"] - walked == pytest.approx(hours, abs=1.0)


def test_no_fixing_bears_more_than_it_may(csv: dict[str, pd.DataFrame]) -> None:
    """The Wood Handbook's withdrawal loads over 5 and the catalogue's own pull over 1.5, by the sheet's own columns."""
    clips, fixings, posts = csv["clips"], csv["catalogue of fixings"], csv["catalogue of posts"]
    gravity = clips["post_id"].map(csv["posts"].set_index("post_id")["post_item"]).map(posts["specific_gravity"])
    item = fixings.loc[clips["fixing"]].reset_index()
    size = item["fastener_diameter_mm"] * item["fastener_length_mm"] * item["fasteners"]
    screw = item["fastener_kind"] == "screw"
    drawn = size.where(screw, 2.0 * size) * (54.12 * gravity**2.5).where(~screw, 108.25 * gravity**2)
    holds = pd.concat([drawn / 5.0, item["lets_go_n"] / 1.5], axis=1).min(axis=1)
    assert clips["holds_n"].to_numpy() == pytest.approx(holds.to_numpy(), abs=0.006)
    up = (-clips["load_min_n"]).clip(lower=0.0).where(clips["clip"] != "one-way", 0.0)
    assert (pd.concat([up, clips["load_max_n"]], axis=1).max(axis=1) <= clips["holds_n"] + 0.01).all()
    assert item.loc[(clips["clip"] == "two-way").to_numpy(), "holds"].eq("both").all()
    lasting = (clips["load_strung_n"] < -5.01).to_numpy()
    assert not item.loc[lasting, "shank"].eq("smooth").any()


def test_rows_times_lines_are_runs_and_metres_are_coils(csv: dict[str, pd.DataFrame]) -> None:
    rows, wires, coils, items = csv["rows"], csv["wires"], csv["coils"], csv["catalogue of wire"]
    runs = coils.drop_duplicates(["row_id", "wire_id", "line"])
    assert len(runs) == len(rows) * EVERY_LINE
    # A line of n lengths has n - 1 joins, each with its place; no length of it is under 20 m.
    pieces = coils.groupby(["row_id", "wire_id", "line"])["coil_id"].transform("size")
    assert (coils["joined"] == "yes").to_numpy().tolist() == (pieces > 1).tolist()
    assert coils["join_m"].notna().sum() == coils["join_span"].notna().sum() == len(coils) - len(runs) > 0
    assert (coils["to_m"] - coils["from_m"])[pieces > 1].min() >= 20.0 - 1e-9
    length = coils.groupby(["row_id", "wire_id"])["to_m"].sum() - coils.groupby(["row_id", "wire_id"])["from_m"].sum()
    there = wires.set_index(["row_id", "wire_id"])["run_out_m"]
    # A run is rounded up to the millimetre; the sheet of wires rounds the sum of one or two lines to one.
    assert (length[there.index] - there).between(-0.0006, 0.0026).all()
    by_coil = coils.groupby("coil_id")
    # Each coil is cut from 0 on, without gap or overlap, and no further than it is long.
    assert (by_coil["from_m"].first() == 0.0).all()
    after = coils[coils["coil_id"] == coils["coil_id"].shift()]
    assert after["from_m"].to_numpy() == pytest.approx(coils["to_m"].shift()[after.index].to_numpy(), abs=1e-9)
    assert (by_coil["to_m"].max() + by_coil["remainder_m"].first()).to_numpy() == pytest.approx(
        by_coil["coil_m"].first().to_numpy(), abs=1e-6
    )
    assert (coils["remainder_m"] >= 0.0).all()
    assert (coils["remainder_usable"] == "yes").to_numpy().tolist() == (coils["remainder_m"] >= 30.0).tolist()
    assert (coils["coil_m"] == coils["wire_item"].map(items["coil_m"])).all()
    count = by_coil["wire_item"].first().value_counts()
    assert ordered(csv, "wire").to_dict() == count.to_dict()
    used = csv["materials"].set_index("item").loc[count.index].rename_axis("item")
    for line in as_lines(used.reset_index()):
        item = line["item"]
        metres = (coils["to_m"] - coils["from_m"])[coils["wire_item"] == item].sum()
        assert line["length_m"] == pytest.approx(metres, abs=5e-4)
        # No fewer coils could hold it: the metres alone need so many.
        assert count[item] == math.ceil(metres / items.loc[item, "coil_m"])
        assert line["mass_kg"] == pytest.approx(metres * 25.0 / items.loc[item, "coil_m"], abs=0.006)
        # 38.58 kg/km of 2.5 mm: NZ Ministry of Agriculture & Fisheries, The Press, 1 Jun 1984; by the square of others.
        steel = 38.58e-3 * (items.loc[item, "diameter_mm"] / 2.5) ** 2
        assert line["mass_kg"] == pytest.approx(metres * steel, rel=5e-3)


def test_ends_adjusters_and_spares(csv: dict[str, pd.DataFrame]) -> None:
    rows, adjusters, materials = csv["rows"], csv["adjusters"], csv["materials"]
    ends = len(rows) * EVERY_LINE * 2
    wire_ends = ordered(csv, "wire end")
    assert wire_ends["end staple 4 x 50"] == 2 * ends
    assert wire_ends["crimp sleeve"] == ends - len(adjusters)
    assert ordered(csv, "adjuster").to_dict() == adjusters["kind"].value_counts().to_dict()
    percent = csv["spares"].set_index("id")["percent"]
    for line in as_lines(materials[~materials["kind"].isin(["wire", "tool"])]):
        assert line["spare_quantity"] == math.ceil(line["quantity"] * percent[line["kind"]] / 100.0)
    coils = csv["coils"].drop_duplicates("coil_id")
    for line in as_lines(materials[materials["kind"] == "wire"]):
        left = coils[(coils["wire_item"] == line["item"]) & (coils["remainder_usable"] == "yes")]
        missing = line["length_m"] * percent["wire"] / 100.0 - left["remainder_m"].sum()
        coil_m = csv["catalogue of wire"].loc[line["item"], "coil_m"]
        assert line["spare_quantity"] == max(0, math.ceil(missing / coil_m))


def test_prices_add_up_to_the_cent(csv: dict[str, pd.DataFrame]) -> None:
    materials, costs = csv["materials"], csv["costs"].set_index("part")
    totals = costs["total"].to_dict()
    cent = Decimal("0.01")
    whole = Decimal(0)
    for kind, lines in materials[materials["unit_price"].notna()].groupby("kind"):
        total = Decimal(0)
        for line in as_lines(lines):
            many = math.ceil((int(line["quantity"]) + int(line["spare_quantity"])) / line["pack"]) * line["pack"]
            assert many == line["packs"] * line["pack"]
            exact = Decimal(f"{line['unit_price']:.4f}") * many
            assert Decimal(f"{line['total']:.2f}") == exact.quantize(cent, rounding=ROUND_HALF_UP)
            total += Decimal(f"{line['total']:.2f}")
        assert Decimal(f"{totals[kind]:.2f}") == total
        whole += total
    labour = csv["rows"]["hours"].sum() * 18.0
    assert totals["labour"] == pytest.approx(labour, abs=0.0051)
    whole += Decimal(f"{totals['labour']:.2f}")
    # What else the job costs, shares of all last; setting out has no price in the demo, and the sum says so.
    beside = costs.loc["setting out":"contingency", "total"]
    assert beside.isna().to_dict() == {name: name == "setting out" for name in beside.index}
    assert totals["carting posts"] == pytest.approx(0.8 * len(csv["posts"]), abs=0.006)
    assert totals["contingency"] == pytest.approx(0.05 * (float(whole) + beside.drop("contingency").sum()), abs=0.006)
    assert costs.loc["sum", "unpriced"] == "setting out"
    whole += sum(Decimal(f"{total:.2f}") for total in beside.dropna())
    assert Decimal(f"{totals['sum']:.2f}") == whole
    metres = csv["rows"]["length_m"].sum()
    assert costs.loc["sum", "per_row_m"] == pytest.approx(float(whole) / metres, abs=1e-4)
    # The sample's blocks have 8.05 ha, less 0.04 ha of exclusions.
    assert float(whole) / costs["per_ha"].to_dict()["sum"] == pytest.approx(8.01, abs=0.01)


def test_zones_hold_every_row_once_and_their_tasks_take_their_hours(csv: dict[str, pd.DataFrame]) -> None:
    rows, zones, programme = csv["rows"], csv["zones"].set_index("zone_id"), csv["programme"]
    assert rows["zone_id"].isin(zones.index).all()
    by_zone = rows.groupby("zone_id")
    assert (by_zone.size() == zones["rows"]).all()
    assert (by_zone["posts"].sum() == zones["posts"]).all()
    assert by_zone["length_m"].sum().to_numpy() == pytest.approx(zones["row_length_m"].to_numpy(), abs=5e-3)
    assert by_zone["hours"].sum().to_numpy() == pytest.approx(zones["hours"].to_numpy(), abs=1e-9)
    tasks = programme.groupby("zone_id")["hours"].sum()
    assert tasks.to_numpy() == pytest.approx(zones["hours"].to_numpy(), abs=1e-9)
    assert (zones["days"] - zones["hours"] / 24.0).abs().max() < 0.0051
    # Consecutive rows: within a block the numbers of one zone end before those of the next begin.
    number = rows["row_id"].str.extract(r"-R(\d+)")[0].astype(int)
    reach = number.groupby([rows["block_id"], rows["zone_id"]]).agg(["min", "max"])
    for _, block in reach.groupby(level=0):
        assert (block["min"].to_numpy()[1:] >= block["max"].to_numpy()[:-1]).all()


def test_hours_of_one_zone_by_hand(csv: dict[str, pd.DataFrame]) -> None:
    """Setting posts, running out and tying off in the first zone, from the catalogue's minutes and 50 m/min."""
    zone = csv["zones"].iloc[0]["zone_id"]
    rows = csv["rows"][csv["rows"]["zone_id"] == zone]
    factor = {"0-10 %": 1.0, "10-20 %": 1.15, "20-30 %": 1.35, "30 % and over": 1.6}
    rate, wires, adjusters = csv["rates"].set_index("id")["minutes"].to_dict(), csv["wires"], csv["adjusters"]
    expected = dict.fromkeys(("set posts", "run out", "fix one end", "tie off"), 0.0)
    for row in as_lines(rows):
        slope, walk = factor[row["slope_class"]], row["slope_length_m"] / 50.0
        run_out = wires.loc[wires["row_id"] == row["row_id"], "run_out_m"].sum()
        tied = EVERY_LINE - (adjusters["row_id"] == row["row_id"]).sum()
        minutes = {
            "set posts": (row["posts"] - 2) * 7.0 + walk,
            "run out": run_out / 100.0 * rate["run out"] + 2 * EVERY_LINE * walk,
            "fix one end": EVERY_LINE * rate["tie off"] + walk,
            "tie off": tied * rate["tie off"] + walk,
        }
        for task, each in minutes.items():
            expected[task] += math.floor(100.0 * slope * each / 60.0 + 0.5) / 100.0  # each row to a hundredth
    tasks = csv["programme"][csv["programme"]["zone_id"] == zone].set_index("task")
    for task, hours in expected.items():
        assert tasks.loc[task, "hours"] == pytest.approx(hours, abs=1e-9)
    assert tasks["step"].tolist() == list(range(1, len(tasks) + 1))


def test_in_every_zone_the_wire_is_in_its_clips_before_it_is_strained(csv: dict[str, pd.DataFrame]) -> None:
    for _, tasks in csv["programme"].groupby("zone_id"):
        step = tasks.set_index("task")["step"]
        order = ["set posts", "set end posts", "clips and staples", "run out", "fix one end", "tension", "tie off"]
        assert step[[*order, "drive home", "check"]].is_monotonic_increasing
        notes = tasks.set_index("task")["note"]
        assert notes["tension"] == "Strain only when the wire is in every clip."
        assert notes[["clips and staples", "run out", "drive home"]].notna().all()


def test_after_the_printed_order_every_wire_has_its_set_tension(csv: dict[str, pd.DataFrame]) -> None:
    """Strained in its clips it keeps what was set; strained before, it would end at `unclipped_n`."""
    wires = csv["wires"].merge(csv["rows"][["row_id", "zone_id"]], on="row_id")
    step = csv["programme"].pivot_table(index="zone_id", columns="task", values="step")
    into_clips = (step["clips and staples"] < step["run out"]) & (step["run out"] < step["tension"])
    ends_at = wires["tension_n"].where(wires["zone_id"].map(into_clips), wires["unclipped_n"])
    assert (ends_at == wires["tension_n"]).all()
    # No small matter on this ground: the other order ends most wires at twice as much, some beyond breaking.
    assert (wires["unclipped_n"] >= wires["tension_n"] - 0.02).all()
    assert wires["unclipped_n"].div(wires["tension_n"]).median() > 2.0
    assert (wires["unclipped_n"] > wires["knot_bears_n"] / 0.44).any()


def test_what_goes_to_the_zones_is_what_is_ordered(csv: dict[str, pd.DataFrame]) -> None:
    zones, materials = csv["zone_materials"], csv["materials"].set_index(["kind", "item"])
    there = zones[zones["kind"] != "tool"].groupby(["kind", "item"])["quantity"].sum()
    for line in as_lines(csv["materials"]):
        if line["kind"] == "wire":
            assert there["wire", line["item"]] == pytest.approx(line["length_m"], abs=5e-4)
        elif line["kind"] != "tool":
            assert there[line["kind"], line["item"]] == line["quantity"]
    assert set(there.index) == {place for place in materials.index if place[0] != "tool"}


def test_the_programme_names_every_coil_and_its_begin(csv: dict[str, pd.DataFrame]) -> None:
    coils, programme = csv["coils"], csv["programme"]
    words = programme[programme["task"] == "carry coils"].set_index("zone_id")["materials"]
    for zone, cuts in coils.groupby("zone_id"):
        named = dict(re.findall(r"(C\d+)(?: \(open, ([\d.]+) m run off\))?", words[zone]))
        begins = cuts.groupby("coil_id")["from_m"].min()
        assert set(named) == set(begins.index)
        for coil, begin in begins.items():
            assert float(named[coil] or 0.0) == pytest.approx(begin, abs=0.0051)
