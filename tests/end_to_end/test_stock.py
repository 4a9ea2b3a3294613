"""The store: part coils are cut first, only what lacks is ordered, and what is left serves the next plan as it is."""

from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner
from wirerun.cli import main
from wirerun.tables import as_lines

ROOT = Path(__file__).parents[2]
STOCK = ROOT / "sample_data" / "encosta_nova" / "stock.csv"


def plan(tmp: Path, name: str, stock: Path | None) -> Path:
    """Plan the lower block of the sample with a store, as its user would, and return the folder."""
    base = (ROOT / "configs" / "encosta_nova.toml").read_text(encoding="utf-8")
    base = base.replace("block.geojson", "lower_block.geojson").replace('"../', f'"{ROOT.as_posix()}/')
    store = f'\n[stock]\nfile = "{stock.as_posix()}"\n' if stock else ""
    (tmp / f"{name}.toml").write_text(base + store, encoding="utf-8")
    ran = CliRunner().invoke(main, ["plan", str(tmp / f"{name}.toml"), "--out", str(tmp / name), "--only", "schedule"])
    assert ran.exit_code == 0, ran.output
    return tmp / name


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path]:
    """Plans without a store, with the sample's, and with what that one has left."""
    tmp = tmp_path_factory.mktemp("stock")
    with_stock = plan(tmp, "with", STOCK)
    return plan(tmp, "without", None), with_stock, plan(tmp, "next", with_stock / "schedule" / "stock_left.csv")


def table(folder: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / "schedule" / f"{name}.csv", encoding="utf-8-sig")


def stock_of(path: Path) -> tuple[pd.Series, pd.DataFrame]:
    """Pieces by item, and part coils."""
    lines = pd.read_csv(path, encoding="utf-8-sig")
    whole = lines["left_m"].isna()
    return lines[whole].groupby("item")["quantity"].sum(), lines[~whole]


def test_what_is_needed_is_in_stock_or_ordered(folders: tuple[Path, Path, Path]) -> None:
    _, folder, _ = folders
    there, parts = stock_of(STOCK)
    materials = table(folder, "materials").set_index("item")
    needed = materials["quantity"] + materials["spare_quantity"]
    assert (materials["in_stock"] + materials["to_order"] == needed).all()
    assert (materials["packs"] == -(-materials["to_order"] // materials["pack"])).all()
    pieces = materials["kind"] != "wire"
    have = there.reindex(materials.index, fill_value=0)
    assert (materials["in_stock"] == pd.concat([needed, have], axis=1).min(axis=1))[pieces].all()
    priced = materials.dropna(subset="unit_price")
    total = (priced["packs"] * priced["pack"] * priced["unit_price"]).round(2)
    assert priced["total"].to_numpy() == pytest.approx(total.to_numpy(), abs=0.006)
    costs = table(folder, "costs").set_index("part")["total"]
    of_kinds = materials.groupby("kind")["total"].sum()
    assert of_kinds[of_kinds > 0].to_dict() == pytest.approx(costs.reindex(of_kinds[of_kinds > 0].index).to_dict())
    assert len(parts) == 5


def test_part_coils_are_cut_first_from_what_is_on_them(folders: tuple[Path, Path, Path]) -> None:
    _, folder, _ = folders
    _, parts = stock_of(STOCK)
    coils = table(folder, "coils")
    begun = coils.drop_duplicates("coil_id")
    for item, mine in begun.groupby("wire_item"):
        long_enough = parts.loc[(parts["item"] == item) & (parts["left_m"] >= 20.0)]
        lengths = sorted(np.repeat(long_enough["left_m"], long_enough["quantity"].to_numpy()).tolist(), reverse=True)
        first = mine.head(len(lengths))
        assert first["coil_m"].tolist() == lengths
        assert first["coil_id"].str.endswith("P").all()
        assert set(first["from_stock"]) == {"part"}
        assert not mine.iloc[len(lengths) :]["coil_id"].str.endswith("P").any()
    whole = begun[begun["from_stock"] == "whole"]["wire_item"].value_counts()
    assert whole.to_dict() == {"wire 2.5 mm medium tensile": 12}
    assert set(coils["stock_tag"].dropna()) == {"blue", "C012", "C044"}


def test_metres_of_wire_balance(folders: tuple[Path, Path, Path]) -> None:
    """What is on the coils that are begun is what is cut from them and what is left on them."""
    for folder in folders:
        coils = table(folder, "coils")
        cut = (coils["to_m"] - coils["from_m"]).sum()
        begun = coils.drop_duplicates("coil_id")
        assert begun["coil_m"].sum() == pytest.approx(cut + begun["remainder_m"].sum(), abs=0.001 * len(begun))


def test_the_stores_cost_is_saved_and_no_more(folders: tuple[Path, Path, Path]) -> None:
    without, folder, _ = folders
    before, after = (
        next(line for line in as_lines(table(one, "materials")) if line["item"] == "wire 2.5 mm medium tensile")
        for one in (without, folder)
    )
    assert after["total"] <= before["total"] - 12 * before["unit_price"]
    sums = [float(table(one, "costs").set_index("part")["total"]["sum"]) for one in (without, folder)]
    worth = float(table(folder, "materials")["stock_worth"].sum())
    assert 0.0 < sums[0] - sums[1] < 1.2 * worth  # with freight, waste and contingency on what is not bought
    blocks = table(folder, "block_costs")
    assert blocks.loc[blocks["part"] == "sum", "total"].sum() == pytest.approx(sums[1], abs=0.005)


def test_the_order_book_has_the_store_in_its_cells(folders: tuple[Path, Path, Path]) -> None:
    _, folder, _ = folders
    materials = table(folder, "materials").set_index("item")
    book = openpyxl.load_workbook(folder / "schedule" / "order.xlsx", data_only=True)
    lines = {row[0]: row for row in book["Order"].iter_rows(values_only=True) if row[0] in materials.index}
    assert {name: row[6] or 0 for name, row in lines.items()} == materials["in_stock"].to_dict()
    assert {name: row[9] for name, row in lines.items()} == materials["packs"].to_dict()
    said = [row[10] for row in book["Coils"].iter_rows(values_only=True) if row[10]]
    assert "part coil blue" in said


def test_what_is_left_is_what_there_was_and_was_bought_less_what_was_taken(folders: tuple[Path, Path, Path]) -> None:
    _, folder, _ = folders
    there, _ = stock_of(STOCK)
    left, parts = stock_of(folder / "schedule" / "stock_left.csv")
    for line in as_lines(table(folder, "materials")):
        if line["kind"] != "wire":
            bought = line["packs"] * line["pack"]
            used = 0 if line["kind"] == "tool" else line["quantity"] + line["spare_quantity"]
            assert left.get(line["item"], 0) == there.get(line["item"], 0) + bought - used
    coils = table(folder, "coils").drop_duplicates("coil_id")
    kept = coils[coils["remainder_usable"] == "yes"]
    assert set(kept["coil_id"]) | {"short end"} == set(parts["tag"])
    assert parts.set_index("tag").loc[kept["coil_id"], "left_m"].tolist() == kept["remainder_m"].tolist()


def test_the_next_plan_takes_what_is_left_as_it_is(folders: tuple[Path, Path, Path]) -> None:
    _, folder, following = folders
    _, parts = stock_of(folder / "schedule" / "stock_left.csv")
    begun = table(following, "coils").drop_duplicates("coil_id")
    used = begun[begun["from_stock"] == "part"]
    assert sorted(used["stock_tag"]) == sorted(parts.loc[parts["left_m"] >= 20.0, "tag"])
    materials = table(following, "materials").set_index("item")
    assert (materials.loc[materials["kind"] == "tool", "to_order"] == 0).all()


def test_an_estate_takes_no_store(tmp_path: Path) -> None:
    base = (ROOT / "configs" / "encosta_nova.toml").read_text(encoding="utf-8").replace('"../', f'"{ROOT.as_posix()}/')
    (tmp_path / "estate.toml").write_text(f'{base}\n[stock]\nfile = "{STOCK.as_posix()}"\n', encoding="utf-8")
    ran = CliRunner().invoke(main, ["estate", str(tmp_path / "estate.toml"), "--out", str(tmp_path / "out")])
    assert ran.exit_code == 3
    assert "each would take the same stock" in " ".join(ran.output.split())
