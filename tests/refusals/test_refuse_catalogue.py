"""Every way a catalogue can be wrong, and the sentence for it."""

import os
import shutil
from pathlib import Path

import pytest
from wirerun.errors import Exit, Faults
from wirerun.read.catalogue import read_catalogue

FOLDER = Path(__file__).parents[2] / "configs" / "catalogue"
FILES = ("wire", "fixings", "adjusters", "posts", "wire_ends", "rates", "spares")
ORIGIN = "an offer,2026-01-02"
WIRE = "id,diameter_mm,grade,breaking_n,coil_kg,coil_m,price,source,date\n"
FIXING = (
    "id,kind,holds,lets_go_n,fixes_to,fastener,fasteners,fastener_kind,shank,fastener_diameter_mm,fastener_length_mm,"
    "driven,net_safe,minutes,price,fastener_price,source,date\n"
)
ADJUSTER = "id,least_mm,most_mm,barrel_mm,tail_m,minutes,source,date\n"
POST = "id,kind,material,length_m,depth_m,width_mm,specific_gravity,pull_out_n,minutes,source,date\n"
HEADS = {"wire": WIRE, "fixings": FIXING, "adjusters": ADJUSTER, "posts": POST}


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    """Return a copy of the default catalogue, to be broken."""
    return Path(shutil.copytree(FOLDER, tmp_path / "mine"))


def told(mine: Path) -> list[str]:
    faults = Faults()
    read_catalogue("mine", mine.parent, faults)
    assert all(fault.exit_code == Exit.BAD_INPUT for fault in faults)
    return [str(fault).replace(f"{mine.parent}/", "").removeprefix("mine/") for fault in faults]


def told_of(mine: Path, stem: str, content: str | bytes) -> list[str]:
    (mine / f"{stem}.csv").write_bytes(content if isinstance(content, bytes) else content.encode())
    return told(mine)


def test_no_such_folder(tmp_path: Path) -> None:
    assert told(tmp_path / "mine") == ["mine: there is no such folder; looked for mine"]


def test_a_file_for_a_folder(tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("id")
    (sentence,) = told(tmp_path / "mine")
    assert sentence == f"mine: this is a file; a folder with {', '.join(f'{name}.csv' for name in FILES)} is wanted"


def test_files_that_are_missing(mine: Path) -> None:
    (mine / "wire.csv").rename(mine / "wires.csv")
    (mine / "fixings.csv").unlink()
    assert told(mine) == [
        "wire.csv: there is no such file; looked for mine/wire.csv; did you mean wires.csv?",
        "fixings.csv: there is no such file; looked for mine/fixings.csv",
    ]


def test_files_that_are_no_plain_files(mine: Path) -> None:
    for name in ("wire", "posts", "rates"):
        (mine / f"{name}.csv").unlink()
    (mine / "wire.csv").mkdir()
    os.mkfifo(mine / "posts.csv")
    (mine / "rates.csv").touch()
    assert told(mine) == [
        "wire.csv: this is a folder, a file is wanted",
        "posts.csv: this is no plain file (a device, a pipe or a socket)",
        "rates.csv: the file is empty (0 bytes)",
    ]


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"\n ,\r\n", ": the file holds nothing but blank lines; its first line must name the columns"),
        (b"a" * 1_000_001, ": 1000001 bytes are no catalogue; at most 1000000 are read"),
        (b"PK\x03\x04 and so on", ": this is a spreadsheet; save the sheet as CSV in UTF-8"),
        (WIRE.encode("utf-16"), ", line 1: this is no UTF-8 text; save the table as CSV in UTF-8"),
        ((WIRE + "thin,2.5,h\0rd").encode(), ", line 2: this is no UTF-8 text; save the table as CSV in UTF-8"),
        (
            WIRE.encode() + "\nfil,2.5,dur galvanisé".encode("latin-1"),
            ", line 3: this is no UTF-8 text; save the table as CSV in UTF-8",
        ),
        (
            WIRE.replace(",", ";").encode() + b"thin;2,5;hard",
            ", line 1: the cells are parted by semicolons; save it with commas, and with decimal points",
        ),
        (
            b"\n" + WIRE.replace(",", "\t").encode(),
            ", line 2: the cells are parted by tabs; save it with commas, and with decimal points",
        ),
        (
            (WIRE + '\nthin,2.5,"hard, galvanized,6650,25').encode(),
            ", line 3: not valid CSV: unexpected end of data",
        ),
        (
            (WIRE + "thin," + "9" * 140_000).encode(),
            ", line 2: not valid CSV: field larger than field limit (131072)",
        ),
    ],
    ids=[
        "blank",
        "large",
        "spreadsheet",
        "utf-16",
        "nul",
        "latin-1",
        "semicolons",
        "tabs",
        "open-quote",
        "endless-cell",
    ],
)
def test_a_file_that_will_not_do(mine: Path, content: bytes, sentence: str) -> None:
    assert told_of(mine, "wire", content) == [f"wire.csv{sentence}"]


@pytest.mark.parametrize(
    ("change", "sentences"),
    [
        (("diameter_mm", "diametre_mm"), ['unknown column "diametre_mm"; did you mean diameter_mm?']),
        (("breaking_n", "Breaking_N"), ['unknown column "Breaking_N"; did you mean breaking_n?']),
        (
            ("price", "zzz"),
            [f'unknown column "zzz"; known are source, date, supplier, {WIRE[:-13].replace(",", ", ")}'],
        ),
        (("price", ""), ["column 7 has no name"]),
        (("price", "coil_m"), ["the column coil_m is there more than once"]),
    ],
)
def test_columns_that_will_not_do(mine: Path, change: tuple[str, str], sentences: list[str]) -> None:
    missing = [f"the column {change[0]} is missing"] if change[0] != "price" else []
    text = WIRE.replace(*change) + f"thin,2.5,hard,6650,25,,,{ORIGIN}\n"
    assert told_of(mine, "wire", text) == [f"wire.csv, line 1: {said}" for said in sentences + missing]


def test_rows_are_checked_under_a_bad_header_too(mine: Path) -> None:
    text = "id,diameter_mm,breaking_n,coil_kg,source,date\nthin,much,6650,-25,an offer,2026-01-02\n"
    assert told_of(mine, "wire", text) == [
        "wire.csv, line 1: the column grade is missing",
        'wire.csv, line 2, diameter_mm: "much" is no number',
        'wire.csv, line 2, coil_kg: "-25" will not do; it must be greater than 0',
    ]


@pytest.mark.parametrize(
    ("stem", "row", "sentences"),
    [
        ("wire", ",2.5,hard,6650,25,,,an offer,2026-01-02", ["id: the cell is empty; it is required"]),
        ("wire", "thin,2.5,hard,6650,25,,,,2026-01-02", ["source: the cell is empty; it is required"]),
        (
            "wire",
            "thin,2.5,hard,6650,25,,,me,2026-01-02",
            ['source: "me" will not do; it must have at least 3 characters'],
        ),
        ("wire", "thin,2.5,hard,6650,25,,,an offer", ["date: the cell is empty; it is required"]),
        (
            "wire",
            "thin,2.5,hard,6650,25,,,an offer,2 Jan 2026",
            ['date: "2 Jan 2026" is no date; wanted is one such as 2026-11-25'],
        ),
        ("wire", "thin,2.5,hard,6650,25,,,an offer,0", ['date: "0" is no date; wanted is one such as 2026-11-25']),
        (
            "wire",
            "thin,2.5,hard,6650,25,,,an offer,2026-02-30",
            ['date: "2026-02-30" will not do; there is no such day'],
        ),
        (
            "wire",
            "thin,2.5,hard,6650,25,,,an offer,1826-02-03",
            ['date: "1826-02-03" will not do; it must be greater than or equal to 1900-01-01'],
        ),
        (
            "wire",
            'thin,"2,5",hard,"6,650",25,,79 EUR,an offer,2026-01-02',
            [
                'diameter_mm: "2,5" has a comma; numbers take a decimal point and nothing between thousands',
                'breaking_n: "6,650" has a comma; numbers take a decimal point and nothing between thousands',
                'price: "79 EUR" has "EUR" after the number; write the number alone, in the column\'s unit',
            ],
        ),
        (
            "wire",
            "thin,2,5,hard,6650,25,,,an offer,2026-01-02",
            [": it has 10 cells, where the header has 9; a cell with a comma in it must be in quotes"],
        ),
        (
            "wire",
            "thin,2.5mm,hard,6.65 kN,nan,,1e999,an offer,2026-01-02",
            [
                'diameter_mm: "2.5mm" has "mm" after the number; write the number alone, in the column\'s unit',
                'breaking_n: "6.65 kN" has "kN" after the number; write the number alone, in the column\'s unit',
                'coil_kg: "nan" will not do; a finite number is wanted',
                'price: "1e999" will not do; a finite number is wanted',
            ],
        ),
        (
            "wire",
            "thin,25,hard,6650,25,,,an offer,2026-01-02",
            ['diameter_mm: "25" will not do; it must be less than or equal to 8'],
        ),
        (
            "wire",
            "thin,2.5,hard,678,25,,,an offer,2026-01-02",
            ["breaking_n: 678 N is no breaking load of a steel wire of 2.5 mm; it lies between 1227 and 12272 N"],
        ),
        (
            "wire",
            "thin,2.5,hard,6650,25,2126,,an offer,2026-01-02",
            ["coil_m: 2126 m is more than 10% off the 649 m that 25 kg of wire of 2.5 mm make"],
        ),
        (
            "wire",
            '"a\nb",2.5,hard,6650,25,,,an offer,2026-01-02',
            ['id: "a?b" has a line break, tab or other sign that is no text'],
        ),
        (
            "wire",
            f"{'x' * 61},2.5,hard,6650,25,,,an offer,2026-01-02",
            [f'id: "{"x" * 57}..." will not do; it must have at most 60 characters'],
        ),
        (
            "fixings",
            f"c,clip,sideways,400,wood,,1,screw,threaded,4,26,screwdriver,maybe,1,,,{ORIGIN}",
            [
                (
                    "kind: \"clip\" will not do; it must be 'screw-fixed clip', 'staple-fixed clip', 'formed staple', "
                    "'plain staple' or 'hook'"
                ),
                "holds: \"sideways\" will not do; it must be 'down', 'up' or 'both'",
                "fixes_to: \"wood\" will not do; it must be 'timber' or 'steel'",
                'net_safe: "maybe" will not do; yes or no is wanted',
            ],
        ),
        (
            "fixings",
            f"c,screw-fixed clip,both,400,timber,screw,1.5,screw,threaded,4,26,screwdriver,yes,1,,,{ORIGIN}",
            ['fasteners: "1.5" is no whole number'],
        ),
        (
            "fixings",
            f"c,screw-fixed clip,both,400,timber,screw,,staple,smooth,4,26,screwdriver,yes,1,,,{ORIGIN}",
            [
                'fastener_kind: "staple" does not go with a screw-fixed clip; allowed: screw',
            ],
        ),
        (
            "fixings",
            f"c,screw-fixed clip,both,400,timber,screw,0,screw,ringed,,0,air,yes,1,,,{ORIGIN}",
            [
                "fasteners: 0 will not do; a screw-fixed clip has 1 or more",
                'shank: "ringed" does not go with the fastener screw; allowed: threaded',
                "fastener_diameter_mm: missing; a screw needs a size above 0",
                "fastener_length_mm: missing; a screw needs a size above 0",
                'driven: "air" does not go with the fastener screw; allowed: screwdriver',
            ],
        ),
        (
            "fixings",
            f"s,plain staple,down,400,steel,staple,2,staple,smooth,3,24,hand,no,1,,0.1,{ORIGIN}",
            [
                'holds: "down" does not go with a plain staple; allowed: both',
                'fixes_to: "steel" does not go with a plain staple; allowed: timber',
                'fastener: "staple" is bought with no plain staple; leave the cell empty',
                "fasteners: 2 will not do; a plain staple is its own fastener: 1",
            ],
        ),
        (
            "fixings",
            f"s,formed staple,both,400,timber,,1,staple,ringed,3,24,hand,no,1,,0.1,{ORIGIN}",
            [
                (
                    "fastener_price: 0.1 is a price without a fastener; name it in the column fastener, or leave the "
                    "cell empty"
                ),
            ],
        ),
        (
            "fixings",
            f"h,hook,both,400,timber,,,none,smooth,3,24,hand,no,1,,,{ORIGIN}",
            [
                'fixes_to: "timber" does not go with a hook; allowed: steel',
                "fasteners: 1 will not do; a hook has 0",
                'shank: "smooth" does not go with a fixing without a fastener; allowed: none',
                "fastener_diameter_mm: 3 will not do; a fixing without a fastener has 0, or an empty cell",
                "fastener_length_mm: 24 will not do; a fixing without a fastener has 0, or an empty cell",
                'driven: "hand" does not go with a fixing without a fastener; allowed: none',
            ],
        ),
        (
            "adjusters",
            f"tie;2,150,150,2,0.3,3,{ORIGIN}",
            [
                'id: "tie;2" will not do; wanted are 1 to 40 letters, digits, blanks, - and _, the first no blank or -',
                "most_mm: 150 mm will not do; it must be above least_mm = 150 mm",
                'barrel_mm: "2" will not do; it must be greater than or equal to 5',
            ],
        ),
        (
            "posts",
            f"p,intermediate,timber,0.6,0.6,80,,883,5,{ORIGIN}",
            [
                "depth_m: 0.6 m in the ground leave nothing of a post of 0.6 m; it must be below length_m",
                "specific_gravity: missing; a timber post needs it, for what a screw or staple holds in it",
            ],
        ),
        (
            "posts",
            f"p,intermediate,steel,2.5,0.6,80,0.4,883,5,{ORIGIN}",
            ["specific_gravity: 0.4 is for timber; leave the cell of a steel post empty"],
        ),
    ],
)
def test_a_row_that_will_not_do(mine: Path, stem: str, row: str, sentences: list[str]) -> None:
    said = [f"{stem}.csv, line 3{'' if one.startswith(':') else ', '}{one}" for one in sentences]
    assert told_of(mine, stem, f"{HEADS[stem]}\n{row}\n") == said


def test_timber_of_which_the_file_says_no_gravity_at_all(mine: Path) -> None:
    head = POST.replace("specific_gravity,", "")
    assert told_of(mine, "posts", f"{head}p,end,timber,2.5,0.6,80,883,5,{ORIGIN}\n") == [
        "posts.csv, line 2, specific_gravity: missing; a timber post needs it, for what a screw or staple holds in it"
    ]


@pytest.mark.parametrize("stem", FILES)
def test_an_id_that_is_there_twice(mine: Path, stem: str) -> None:
    path = mine / f"{stem}.csv"
    lines = path.read_text("utf-8").splitlines(keepends=True)
    name = lines[1].split(",")[0] if not lines[1].startswith('"') else lines[1].split('"')[1]
    (sentence,) = told_of(mine, stem, "".join([*lines, "\n", lines[1]]))
    wanted = f'{stem}.csv, line {len(lines) + 2}, id: "{name}" is there already, in line 2; an id may stand once'
    assert sentence == wanted


def test_a_task_and_a_kind_that_nobody_knows(mine: Path) -> None:
    (mine / "spares.csv").write_text(f"id,percent,source,date\nposts,2,{ORIGIN}\n")
    text = f"id,per,minutes,source,date\nwalking,mile,1,{ORIGIN}\n"
    assert told_of(mine, "rates", text) == [
        (
            "rates.csv, line 2, id: \"walking\" will not do; it must be 'set out and peg', 'carry out posts', "
            "'end staples', 'carry coils', 'run out', 'tie off', 'tension', 'join', 'check', 'lift', 'let down', "
            "'let out adjusters', 'change kind', 'look' or 'come back'"
        ),
        (
            "rates.csv, line 2, per: \"mile\" will not do; it must be 'post', 'wire end', 'coil', '100 m of wire', "
            "'line', 'join', 'row', 'adjuster' or 'change'"
        ),
        (
            "spares.csv, line 2, id: \"posts\" will not do; it must be 'post', 'wire', 'clip', 'staple', "
            "'fastener', 'wire end', 'adjuster' or 'end assembly'"
        ),
    ]


def test_a_rate_for_what_its_task_is_not_counted_in(mine: Path) -> None:
    rows = "".join(f"{task},{per},1,{ORIGIN}\n" for task, per in (("lift", "row"), ("check", "adjuster")))
    assert told_of(mine, "rates", f"id,per,minutes,source,date\n{rows}") == [
        'rates.csv, line 2, per: "row" does not go with the task lift; allowed: 100 m of wire, line',
        (
            'rates.csv, line 3, per: "adjuster" does not go with the task check; allowed: post, wire end, coil, 100 m '
            "of wire, line, join, row"
        ),
    ]


def test_a_pack_holds_a_whole_number_of_pieces(mine: Path) -> None:
    rows = "".join(f"s{n},tie-off,1,{pack},{ORIGIN}\n" for n, pack in enumerate(("0", "2.5", "", "100")))
    assert told_of(mine, "wire_ends", f"id,use,pieces,pack,source,date\n{rows}") == [
        'wire_ends.csv, line 2, pack: "0" will not do; it must be greater than or equal to 1',
        'wire_ends.csv, line 3, pack: "2.5" is no whole number',
    ]


def test_a_fastener_that_is_not_everywhere_the_same(mine: Path) -> None:
    rows = [
        f"c{n},screw-fixed clip,both,400,timber,screw,1,screw,threaded,{size},26,screwdriver,yes,1,,{price},{ORIGIN}\n"
        for n, (size, price) in enumerate([("4", "0.03"), ("4", "0.03"), ("5", "")])
    ]
    other = "another fastener needs another name"
    assert told_of(mine, "fixings", FIXING + "".join(rows)) == [
        f'fixings.csv, line 4, fastener_price: "screw" has no value here and 0.03 in line 2; {other}',
        f'fixings.csv, line 4, fastener_diameter_mm: "screw" has 5.0 here and 4.0 in line 2; {other}',
    ]


def test_many_faults_are_cut_short(mine: Path) -> None:
    rows = "".join(f"w{n},2.5,hard,much,25,,,{ORIGIN}\n" for n in range(25))
    sentences = told_of(mine, "wire", WIRE + rows)
    assert sentences[19:] == [
        'wire.csv, line 21, breaking_n: "much" is no number',
        "wire.csv: 5 more faults like these are not listed",
    ]


def test_faults_of_all_files_are_told_at_once(mine: Path) -> None:
    for stem in FILES:
        with (mine / f"{stem}.csv").open("a", encoding="utf-8") as stream:
            stream.write("x\n")
    sentences = told(mine)
    assert [name for name in FILES if any(said.startswith(f"{name}.csv, line ") for said in sentences)] == list(FILES)


def test_faults_of_the_default_name_no_place_of_this_machine(mine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (mine / "wire.csv").write_text(f"{WIRE}thin,2.5,hard,much,25,,,{ORIGIN}\n")
    monkeypatch.setattr("wirerun.read.catalogue.default_folder", lambda: mine)
    faults = Faults()
    read_catalogue(None, Path(), faults)
    assert [str(fault) for fault in faults] == [
        'catalogue of the program/wire.csv, line 2, breaking_n: "much" is no number'
    ]
