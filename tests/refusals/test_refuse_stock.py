"""What lies in the store: every fault a sentence with its line, column and limit; files as a spreadsheet saves them."""

from pathlib import Path

import pytest
from wirerun.errors import Faults
from wirerun.read.catalogue import read_catalogue
from wirerun.read.stock import read_stock
from wirerun.records import Stock

WIRE = "wire 2.5 mm medium tensile"
HEAD = "item,quantity,left_m,tag\n"


def read(folder: Path, text: str | bytes) -> tuple[Stock, list[str]]:
    catalogue, _ = read_catalogue(None, folder, Faults())
    raw = text.encode("utf-8") if isinstance(text, str) else text
    (folder / "stock.csv").write_bytes(raw)
    faults = Faults()
    stock, _ = read_stock("stock.csv", folder, catalogue, faults)
    return stock, [str(fault) for fault in faults.found]


def told(stock: Stock) -> tuple[dict[str, int], list[tuple[str, int, str | None]]]:
    pieces = dict(zip(stock.item.tolist(), stock.pieces.tolist(), strict=True))
    return pieces, list(zip(stock.part_item.tolist(), stock.part_mm.tolist(), stock.part_tag.tolist(), strict=True))


def test_lines_of_an_item_add_up_and_part_coils_are_told_apart(tmp_path: Path) -> None:
    text = f"{HEAD}{WIRE},12,,\n{WIRE},3,,\n{WIRE},1,412.5,blue\n{WIRE},2,96.4,\ncrimp sleeve,75,,\nhammer,0,,\n"
    stock, faults = read(tmp_path, text)
    assert faults == []
    assert told(stock) == (
        {WIRE: 15, "crimp sleeve": 75, "hammer": 0},
        [(WIRE, 412_500, "blue"), (WIRE, 96_400, None), (WIRE, 96_400, None)],
    )


@pytest.mark.parametrize("sign", [";", "\t"])
def test_a_spreadsheet_with_decimal_commas_and_byte_order_mark_is_taken(tmp_path: Path, sign: str) -> None:
    lines = [
        ["Item", "Quantity", "LEFT_M", ""],
        [WIRE, "1", "412,5", ""],
        ["crimp sleeve", "75", "", ""],
        ["", "", "", ""],
    ]
    text = "\r\n".join(sign.join(line) for line in lines)
    stock, faults = read(tmp_path, b"\xef\xbb\xbf" + text.encode())
    assert faults == []
    assert told(stock) == ({"crimp sleeve": 75}, [(WIRE, 412_500, None)])


def test_a_clip_mounted_upside_down_is_in_the_store_as_the_clip_that_is_bought(tmp_path: Path) -> None:
    stock, faults = read(tmp_path, f'{HEAD}"open clip, one screw, upside down",20,,\n"open clip, one screw",5,,\n')
    assert faults == []
    assert told(stock)[0] == {"open clip, one screw": 25}


@pytest.mark.parametrize(
    ("line", "place", "sentence"),
    [
        ("crimp sleev,75,,", "line 2, item", 'the catalogue has no "crimp sleev"; did you mean "crimp sleeve"?'),
        (",75,,", "line 2, item", "the cell is empty; it is required"),
        ("crimp sleeve,-5,,", "line 2, quantity", '"-5" will not do; a whole number from 0 on is wanted'),
        ("crimp sleeve,2.5,,", "line 2, quantity", '"2.5" will not do; a whole number from 0 on is wanted'),
        ("crimp sleeve,,,", "line 2, quantity", '"" will not do; a whole number from 0 on is wanted'),
        ("crimp sleeve,99999999,,", "line 2, quantity", "more than any store holds; at most 10000000 are read"),
        (f"{WIRE},1,700,", "line 2, left_m", f'700 m are on no part coil; a whole one of "{WIRE}" has 648.0 m'),
        (f"{WIRE},1,0,", "line 2, left_m", "0 m are on no part coil"),
        (f"{WIRE},1,-3,", "line 2, left_m", '"-3" will not do; metres from 0 on are wanted'),
        (f"{WIRE},1,120 m,", "line 2, left_m", '"120 m" will not do; metres from 0 on are wanted'),
        (
            "crimp sleeve,1,12,",
            "line 2, left_m",
            '"12" m are for part coils of wire; "crimp sleeve" is counted in pieces',
        ),
        (f"{WIRE},501,12,", "line 2, quantity", "more than 500 part coils in all; that many are not read"),
        (f"{WIRE},1,412,5,blue", "line 2", "numbers take a decimal point"),
    ],
)
def test_each_fault_of_a_line_is_one_sentence(tmp_path: Path, line: str, place: str, sentence: str) -> None:
    _, (fault,) = read(tmp_path, f"{HEAD}{line}\n")
    assert f"stock.csv, {place}: " in fault
    assert sentence in fault


def test_what_may_be_metres_or_thousands_of_them_is_asked_back(tmp_path: Path) -> None:
    _, (fault,) = read(tmp_path, f"item;quantity;left_m\n{WIRE};1;1.250\n")
    assert '"1.250" may be metres or thousands of them; write it with a comma, or whole' in fault


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("item,left_m\nx,1\n", "line 1: the column quantity is missing"),
        ("item,quantity,left\nx,1,\n", 'line 1: unknown column "left"; did you mean left_m?'),
        ("item,item,quantity\nx,x,1\n", 'line 1: the column "item" is there more than once'),
        (b"PK\x03\x04rest", "this is a spreadsheet; save the sheet as CSV in UTF-8"),
        (b"item,quantity\ncaf\xe9,1\n", "line 2: this is no UTF-8 text; save the table as CSV in UTF-8"),
        (f'{HEAD}"open,1,,\n', "not valid CSV"),
    ],
)
def test_each_fault_of_the_file_is_one_sentence(tmp_path: Path, text: str | bytes, sentence: str) -> None:
    _, faults = read(tmp_path, text)
    assert sentence in faults[0]


def test_all_faults_are_told_at_once_and_no_more_than_anybody_reads(tmp_path: Path) -> None:
    _, faults = read(tmp_path, HEAD + "nothing,x,,\n" * 30)
    assert len(faults) == 21
    assert "40 more faults like these are not listed" in faults[-1]


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    catalogue, _ = read_catalogue(None, tmp_path, Faults())
    faults = Faults()
    stock, sources = read_stock("store.csv", tmp_path, catalogue, faults)
    assert "there is no such file" in str(faults.found[0])
    assert len(stock) == len(sources) == 0
