"""Every way a config can be wrong, and the sentence for it."""

import os
from pathlib import Path

import pytest
from wirerun.errors import Exit, InputError
from wirerun.read.config import load_config
from wirerun.read.setting_faults import PATTERNS
from wirerun.settings import Config

GOOD = """
name = "estate"
[block]
boundary = "block.geojson"
[elevation]
raster = "ground.tif"
[rows]
bearing_deg = 62
spacing_m = 2.4
"""

WANTED_WIRES = "wanted are the block's own wires, each headed by [[blocks.NAME.wires]], or changes to some of"
TOO_DEEP = "go deeper than 16; no setting lies so deep"


def refused(folder: Path, text: str | bytes) -> list[str]:
    path = folder / "config.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputError) as caught:
        load_config(path)
    assert caught.value.exit_code == Exit.BAD_INPUT
    return str(caught.value).replace(f"{folder}/", "").splitlines()


def test_good_config_with_mark_of_a_windows_editor_is_read(tmp_path: Path) -> None:
    path = tmp_path / "config.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    config = load_config(str(path))
    assert config.rows.bearing_deg == 62.0
    assert config.path("ground.tif") == tmp_path / "ground.tif"


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("bearing_deg", "bearng_deg", "rows.bearng_deg: unknown setting; did you mean bearing_deg?"),
        ("bearing_deg = 62", "", 'rows.bearing_deg: missing; layout = "parallel" needs it'),
        ('name = "estate"', "", "name: missing; this setting is required"),
        (
            '[elevation]\nraster = "ground.tif"',
            "",
            "elevation: the table [elevation] is missing; it is required, with raster",
        ),
        (
            'name = "estate"',
            'name = "estate"\nmax_span_m = 5.0',
            "max_span_m: unknown setting here; it belongs in [posts]",
        ),
        (
            "[rows]",
            '[rows]\nname = "x"',
            "rows.name: unknown setting here; it belongs in the top of the file, before any table",
        ),
        ("[rows]", "[rows]\nqqq = 1", "rows.qqq: unknown setting; known here are layout, bearing_deg, spacing_m, "),
        ("62", '"62"', 'rows.bearing_deg: "62" will not do; a number is wanted'),
        ("62", "true", "rows.bearing_deg: true will not do; a number is wanted"),
        ("62", "nan", "rows.bearing_deg: nan will not do; a finite number is wanted"),
        ("62", "inf", "rows.bearing_deg: inf will not do; a finite number is wanted"),
        ("62", "[62]", "rows.bearing_deg: a list will not do; a number is wanted"),
        ("62", "1979-05-27", "rows.bearing_deg: 1979-05-27 will not do; a number is wanted"),
        ("62", "360", "rows.bearing_deg: 360 is too large; it must be below 360"),
        ("62", "-1", "rows.bearing_deg: -1 is below the least value 0"),
        ("2.4", "20.5", "rows.spacing_m: 20.5 is above the greatest value 20"),
        (
            "[rows]",
            '[rows]\nlayout = "spiral"',
            'rows.layout: "spiral" is not known; allowed: "parallel", "follow", "given"',
        ),
        (
            "[rows]",
            '[undulation]\nplan_for = "sure"\n[rows]',
            'undulation.plan_for: "sure" is not known; allowed: "price", "certain", "likely", "possible"',
        ),
        (
            'raster = "ground.tif"',
            'raster = "ground.tif"\nheight_unit = "yard"',
            'elevation.height_unit: "yard" is not known; allowed: "m", "ft", "us-ft", "ind-ft"',
        ),
        ("[rows]", "[clips]\nnets = 1\n[rows]", "clips.nets: 1 will not do; true or false is wanted"),
        ("[rows]", "[clips]\nmost = 2.5\n[rows]", "clips.most: 2.5 will not do; a whole number is wanted"),
        ('"block.geojson"', "3", "block.boundary: 3 will not do; text in quotes is wanted"),
        ('"block.geojson"', '""', "block.boundary: the text is empty; leave the setting out or give a value"),
        (
            '"estate"',
            '"a/b"',
            'name: "a/b" will not do; wanted are 1 to 64 letters, digits, - and _, the first a letter or digit',
        ),
        ('"ground.tif"', f'"{"x" * 5000}"', "elevation.raster: 5000 characters are too many; at most 4096 are allowed"),
        ('name = "estate"', 'name = "estate"\nposts = 3', "posts: 3 will not do; a table of settings is wanted"),
        (
            'name = "estate"',
            'name = "estate"\nwires = []',
            "wires: the list is empty; leave it out for the default, or give at least one",
        ),
        (
            "[rows]",
            '[wires]\nid = "a"\n[rows]',
            "wires: a table will not do; a list of tables, each headed by double brackets is wanted",
        ),
        (
            "[rows]",
            '[[wires]]\nid = "a b"\nkind = "fixed"\nheight_m = 1.0\n[rows]',
            'wires.number 1.id: "a b" will not do; wanted are 1 to 24 letters, digits, - and _, the first no -',
        ),
        (
            "[rows]",
            '[[wires]]\nid = "low"\nkind = "fixed"\nheight_m = 0\n[rows]',
            "wires.low.height_m: 0 is too small; it must be above 0",
        ),
        (
            "[rows]",
            '[[wires]]\nid = "low"\nkind = "fixed"\n[rows]',
            "wires.low.height_m: missing; this setting is required",
        ),
        (
            "[rows]",
            '[[wires]]\nid = "low"\nkind = "fixed"\nheight_m = 2.5\n[rows]',
            "wires.low.height_m: 2.5 is above the top of the post, posts.height_out_m = 1.9",
        ),
        (
            "[rows]",
            "[rows]\nanchor_lon = 1.0",
            "rows: anchor_lon and anchor_lat go together; only anchor_lon given",
        ),
        (
            "[rows]",
            "[clips]\nwinter_m = 1.3\n[rows]",
            "clips.winter_m: 1.3 is not below the lowest foliage wire, at 1.2 m",
        ),
        (
            "[rows]",
            "[states]\ncold_c = 20.0\n[rows]",
            "states: cold_c = 20, stringing_c = 15 and hot_c = 40 must rise in this order",
        ),
        (
            "[rows]",
            '[output]\ncrs = "EPSG:4326"\n[rows]',
            'output.crs: "EPSG:4326" (WGS 84) is no projected CRS; wanted is one such as EPSG:32629',
        ),
        (
            "[rows]",
            '[output]\ncrs = "EPSG:99999999"\n[rows]',
            'output.crs: "EPSG:99999999" names no known CRS; wanted is a projected one such as EPSG:32629',
        ),
    ],
)
def test_one_fault_one_sentence(tmp_path: Path, old: str, new: str, sentence: str) -> None:
    sentences = refused(tmp_path, GOOD.replace(old, new, 1))
    meant = [line for line in sentences if line.startswith(f"config.toml, {sentence}")]
    # A misspelt setting that is required is also missing.
    assert len(meant) == 1
    assert len(sentences) == (2 if "bearng" in new else 1)


@pytest.mark.parametrize(
    "given",
    [
        "/vsicurl/example/ground.tif",
        "/vsizip/ground.zip/ground.tif",
        "http://example.invalid/ground.tif",
        "s3://bucket/ground.tif",
        "file:///ground.tif",
        "GPKG:ground.gpkg:heights",
        "NETCDF:ground.nc:z",
    ],
)
def test_paths_that_are_no_plain_files(tmp_path: Path, given: str) -> None:
    (sentence,) = refused(tmp_path, GOOD.replace("ground.tif", given))
    assert sentence.startswith(
        f"config.toml, elevation.raster: '{given}' is a URL, a virtual path or a connection string"
    )


def test_all_faults_at_once_also_those_between_settings(tmp_path: Path) -> None:
    text = """
    name = "a b"
    extra = 1
    [block]
    boundary = "https://example.invalid/block.geojson"
    [elevation]
    raster = "ground.tif"
    accuracy_m = 9.0
    [rows]
    bearng_deg = 62.0
    spacing_m = "2.4"
    anchor_lat = 3.0
    [states]
    cold_c = 30.0
    hot_c = 20.0
    [[wires]]
    id = "low"
    kind = "fixed"
    height_m = 3.0
    [[wires]]
    id = "low"
    kind = "loose"
    height_m = 1.0
    tension_n = 5.0
    """
    assert refused(tmp_path, text) == [
        (
            'config.toml, name: "a b" will not do; wanted are 1 to 64 letters, digits, - and _, '
            "the first a letter or digit"
        ),
        (
            "config.toml, block.boundary: 'https://example.invalid/block.geojson' is a URL, a virtual path or a "
            "connection string; only plain local files are read"
        ),
        "config.toml, elevation.accuracy_m: 9.0 is above the greatest value 5",
        'config.toml, rows.spacing_m: "2.4" will not do; a number is wanted',
        "config.toml, rows.bearng_deg: unknown setting; did you mean bearing_deg?",
        'config.toml, wires.number 2.kind: "loose" is not known; allowed: "fixed", "foliage"',
        "config.toml, wires.number 2.tension_n: 5.0 is below the least value 10",
        (
            "config.toml, extra: unknown setting; known here are name, base, block, elevation, rows, posts, "
            "undulation, states, wires, clips, adjusters, check, fitting, catalogue, fixings, coils, work, "
            "standing, stock, service, machines, repair, measured, phases, map, output, study, survey, blocks"
        ),
        'config.toml, rows.bearing_deg: missing; layout = "parallel" needs it',
        "config.toml, rows: anchor_lon and anchor_lat go together; only anchor_lat given",
        "config.toml, states: cold_c = 30, stringing_c = 15 and hot_c = 20 must rise in this order",
        "config.toml, wires: 2 wires have the id 'low'; each needs its own",
        "config.toml, wires.number 1.height_m: 3 is above the top of the post, posts.height_out_m = 1.9",
    ]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "a = \n",
            "config.toml, line 1, column 5: the setting has no value; give one, or put a # before the line",
        ),
        ("a = b\n", "config.toml, line 1, column 5: not valid TOML: invalid value"),
        ("[a]\n[a]\n", "config.toml, line 2, column 3: not valid TOML: cannot declare ('a',) twice"),
        ('a = "b', "config.toml, end of document: not valid TOML: unterminated string"),
        (b"a = '\xff'", "config.toml, byte 6: not UTF-8 text; save the file as UTF-8"),
        ("", "config.toml: the file is empty (0 bytes)"),
        ("a = " + "[" * 100_000, f"config.toml: tables or lists {TOO_DEEP}"),
        ("a = " + "[" * 90 + "]" * 90, f"config.toml, a: tables or lists {TOO_DEEP}"),
        ("a = " + "{a = " * 90 + "1" + "}" * 90, f"config.toml, a: tables or lists {TOO_DEEP}"),
        ("\n" + "a." * 20_000 + "a = 1", f"config.toml, line 2: the parts of a name {TOO_DEEP}"),
        ("[" + '"a.b" . ' * 16 + "a]", f"config.toml, line 1: the parts of a name {TOO_DEEP}"),
        ("#" * 200_001, "config.toml: 200001 bytes are no config; at most 200000 are read"),
    ],
)
def test_no_toml(tmp_path: Path, text: str | bytes, sentence: str) -> None:
    assert refused(tmp_path, text) == [sentence]


def test_no_such_config_names_the_near_one(tmp_path: Path) -> None:
    (tmp_path / "config.toml").write_text(GOOD)
    with pytest.raises(InputError, match=r"confg\.toml: there is no such file; did you mean config\.toml\?$"):
        load_config(tmp_path / "confg.toml")
    with pytest.raises(InputError, match="there is no such file, and there is no folder "):
        load_config(tmp_path / "nowhere" / "config.toml")


def test_config_that_is_a_folder_or_a_pipe(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"this is a folder, a file is wanted$"):
        load_config(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match="this is no plain file"):
        load_config(tmp_path / "pipe")
    with pytest.raises(InputError, match="the path cannot be followed"):
        load_config("a\0b")


def test_every_pattern_of_the_settings_has_words() -> None:
    def patterns(schema: object) -> list[str]:
        if isinstance(schema, dict):
            own = [schema["pattern"]] if isinstance(schema.get("pattern"), str) else []
            return own + [found for value in schema.values() for found in patterns(value)]
        return [found for value in schema for found in patterns(value)] if isinstance(schema, list) else []

    assert set(patterns(Config.model_json_schema())) == set(PATTERNS)


def test_settings_of_one_block_are_checked_like_the_rest(tmp_path: Path) -> None:
    own = """
    [blocks.B02.rows]
    bearng_deg = 71.0
    spacing_m = 50.0
    [blocks.B02.posts]
    placing = "given"
    [blocks.B02.wires.nope]
    tension_n = 250.0
    [blocks.B03.wires.lower]
    height_m = 4.0
    """
    assert refused(tmp_path, GOOD + own) == [
        (
            "config.toml, blocks.B02.wires.nope: there is no such wire in the config, only lower, upper; other wires "
            "for one block are headed by [[blocks.B02.wires]]"
        ),
        "config.toml, blocks.B02.rows.spacing_m: 50.0 is above the greatest value 20",
        "config.toml, blocks.B02.rows.bearng_deg: unknown setting; did you mean bearing_deg?",
        'config.toml, blocks.B02.posts.points: missing; placing = "given" needs it',
        "config.toml, blocks.B03.wires.lower.height_m: 4 is above the top of the post, posts.height_out_m = 1.9",
    ]


@pytest.mark.parametrize(
    ("sections", "sentence"),
    [
        ('[rows]\nlayout = "follow"', 'rows.guide: missing; layout = "follow" needs it'),
        ('[rows]\nlayout = "given"', 'rows.lines: missing; layout = "given" needs it'),
        ('[posts]\nplacing = "fitted"\nmin_span_m = 7.0\n[rows]', "posts.min_span_m: 7 is more than max_span_m = 6"),
        (
            "[coils]\nopen = 1\nin_one_walk = true\n[rows]",
            "coils.in_one_walk: true with coils.open = 1: two lines in one walk come from two open coils",
        ),
        (
            '[posts]\nplacing = "vine_grid"\nvine_spacing_m = 7.0\n[rows]',
            "posts.vine_spacing_m: 7 is more than max_span_m = 6; no span would hold a vine",
        ),
    ],
)
def test_layouts_and_placings_ask_for_what_they_need(tmp_path: Path, sections: str, sentence: str) -> None:
    assert refused(tmp_path, GOOD.replace("[rows]", sections, 1)) == [f"config.toml, {sentence}"]


def test_a_config_laid_over_a_base(tmp_path: Path) -> None:
    (tmp_path / "base.toml").write_text(GOOD)
    over = tmp_path / "over.toml"
    over.write_text('name = "over"\nbase = "base.toml"\n[rows]\nspacing_m = 3.0\n')
    config = load_config(over)
    assert (config.name, config.rows.spacing_m, config.rows.bearing_deg) == ("over", 3.0, 62.0)
    over.write_text('name = "over"\nbase = "../base.toml"\n')
    with pytest.raises(InputError, match=r'base: "\.\./base\.toml" must lie in the same folder'):
        load_config(over)
    over.write_text('name = "over"\nbase = "bass.toml"\n')
    with pytest.raises(InputError, match=r"bass\.toml: there is no such file; did you mean base\.toml\?"):
        load_config(over)
    (tmp_path / "base.toml").write_text('base = "other.toml"\n' + GOOD)
    over.write_text('name = "over"\nbase = "base.toml"\n')
    with pytest.raises(InputError, match="only one step is followed"):
        load_config(over)


def test_a_lift_must_be_on_the_post(tmp_path: Path) -> None:
    wires = '[[wires]]\nid = "low"\nkind = "foliage"\nheight_m = 1.2\nlifts_m = [1.45, 2.5, -1.0]\n'
    assert refused(tmp_path, GOOD + wires) == [
        "config.toml, wires.low.lifts_m.2: -1.0 is too small; it must be above 0",
        "config.toml, wires.low.lifts_m: 2.5 is above the top of the post, posts.height_out_m = 1.9",
    ]


@pytest.mark.parametrize(
    ("own", "sentences"),
    [
        ("[blocks.B01]\nfoo = 5", ["foo: unknown setting; known here are rows, posts, standing, wires"]),
        ("[blocks.B01.foo]", ["foo: unknown setting; known here are rows, posts, standing, wires"]),
        ("[blocks.B01]\nrow = 5", ["row: unknown setting; did you mean rows?"]),
        ("[blocks.B01]\nspacing_m = 5", ["spacing_m: unknown setting here; it belongs in [blocks.B01.rows]"]),
        ("[blocks.B01]\nwires = 5", [f"wires: {WANTED_WIRES}"]),
        ("[blocks.B01]\nwires = [5]", [f"wires: {WANTED_WIRES}"]),
        ("[blocks.B01.wires]\nlower = 5", [f"wires: {WANTED_WIRES}"]),
        (
            "[blocks.B01]\nwires = []",
            ["wires: the list is empty; leave it out for the default, or give at least one"],
        ),
        (
            '[[blocks.B01.wires]]\nid = "a"\nkind = "loose"\nheight_m = 9\n[[blocks.B01.wires]]\nid = "b"\nhigh = 1\n',
            [
                'wires.a.kind: "loose" is not known; allowed: "fixed", "foliage"',
                "wires.a.height_m: 9 is above the greatest value 5",
                "wires.b.kind: missing; this setting is required",
                "wires.b.height_m: missing; this setting is required",
                "wires.b.high: unknown setting; did you mean height_m?",
                "wires.a.height_m: 9 is above the top of the post, posts.height_out_m = 1.9",
            ],
        ),
        (
            '[[blocks.B01.wires]]\nid = "a"\nkind = "fixed"\nheight_m = 1.5\n[blocks.B01.posts]\nheight_out_m = 1.2\n',
            ["wires.a.height_m: 1.5 is above the top of the post, posts.height_out_m = 1.2"],
        ),
    ],
)
def test_settings_of_one_block_that_will_not_do(tmp_path: Path, own: str, sentences: list[str]) -> None:
    found = refused(tmp_path, f"{GOOD}{own}\n")
    assert len(found) == len(sentences)
    for line, sentence in zip(found, sentences, strict=True):
        assert line.startswith(f"config.toml, blocks.B01.{sentence}")


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ("rows.bearing_deg", GOOD.replace("62", "0x" + "F" * 6_000)),
        ("rows.bearing_deg", GOOD.replace("62", "9223372036854775808")),
        ("line 8", GOOD.replace("62", "9" * 6_000)),
        ("states.cold_c", f"{GOOD}[states]\ncold_c = -{'9' * 400}\n"),
        ("wires.a.height_m", f'{GOOD}[[wires]]\nid = "a"\nkind = "fixed"\nheight_m = {"9" * 400}\n'),
        ("blocks.B01.rows.spacing_m", f"{GOOD}[blocks.B01.rows]\nspacing_m = {'9' * 400}\n"),
        ("work.slope_classes_pct.1", f"{GOOD}[work]\nslope_classes_pct = [1.0, {'9' * 400}]\n"),
        ("unknown", f"unknown = {'9' * 400}\n{GOOD}"),
    ],
)
def test_numbers_of_too_many_digits(tmp_path: Path, place: str, text: str) -> None:
    """TOML 1.0.0, Integer: 64-bit signed integers, from -2^63 to 2^63 - 1."""
    (sentence,) = refused(tmp_path, text)
    assert sentence == f"config.toml, {place}: a whole number beyond 9223372036854775807 (64 bits) will not do"


def test_the_largest_number_of_toml_is_a_number(tmp_path: Path) -> None:
    (sentence,) = refused(tmp_path, GOOD.replace("62", "-9223372036854775808"))
    assert sentence == "config.toml, rows.bearing_deg: -9223372036854775808 is below the least value 0"


def test_dots_in_texts_and_comments_are_no_names(tmp_path: Path) -> None:
    dots = "." * 20
    texts = f"""
    # {dots}
    [posts]
    end_item = "{dots} \\" {dots}" # {dots}
    intermediate_item = '{dots}'
    [output]
    crs = '''{dots}
    {dots}'''
    """
    (sentence,) = refused(tmp_path, GOOD + texts)
    assert sentence.startswith(f'config.toml, output.crs: "{dots}')


def test_a_base_without_a_name_and_bases_that_go_deep(tmp_path: Path) -> None:
    assert refused(tmp_path, f'base = ""\n{GOOD}') == [
        "config.toml, base: the text is empty; leave the setting out or give a value"
    ]
    for given in (".", "..", "/", "a/b", "a\\u0000b"):
        (sentence,) = refused(tmp_path, f'base = "{given}"\n{GOOD}')
        assert sentence.startswith(("config.toml, base:", "..: this is a folder", "a\\x00b: the path cannot"))
    deep = "a." * 3_000 + "a = 1\n"
    (tmp_path / "base.toml").write_text(deep)
    assert refused(tmp_path, f'base = "base.toml"\n{GOOD}') == [f"base.toml, line 1: the parts of a name {TOO_DEEP}"]
    assert refused(tmp_path, f'base = "base.toml"\n{deep}') == [f"config.toml, line 2: the parts of a name {TOO_DEEP}"]


def test_many_faults_of_a_kind_are_counted_not_told(tmp_path: Path) -> None:
    many = "".join(f"key{number} = 1\n" for number in range(9_000))
    sentences = refused(tmp_path, f"{many}{GOOD.replace('62', '400.0')}")
    unknown = [line for line in sentences if "unknown setting; known here are" in line]
    assert len(unknown) == 20
    assert "config.toml: and 8980 more unknown settings" in sentences
    # What is of another kind is told all the same.
    assert "config.toml, rows.bearing_deg: 400.0 is too large; it must be below 360" in sentences
    assert len(sentences) == 22
    blocks = "".join(f"[blocks.b{number}.rows]\nspacing = 1\n" for number in range(1_000))
    sentences = refused(tmp_path, GOOD + blocks)
    assert sentences[19] == "config.toml, blocks.b19.rows.spacing: unknown setting; did you mean spacing_m?"
    assert sentences[20:] == ["config.toml: and 980 more like these"]


def test_too_many_wires_and_too_many_blocks_are_refused_unseen(tmp_path: Path) -> None:
    wire = '[[wires]]\nid = "a"\nkind = "fixed"\nheight_m = 9\n'
    assert refused(tmp_path, GOOD + "[[wires]]\n" * 10_000) == [
        "config.toml, wires: 10000 wires are too many; at most 20 are allowed"
    ]
    assert refused(tmp_path, GOOD + wire * 21) == ["config.toml, wires: 21 wires are too many; at most 20 are allowed"]
    own = wire.replace("wires", "blocks.B01.wires")
    assert refused(tmp_path, GOOD + own * 21) == [
        "config.toml, blocks.B01.wires: 21 wires are too many; at most 20 are allowed"
    ]
    blocks = "".join(f"[blocks.b{number}.rows]\n" for number in range(1_001))
    assert refused(tmp_path, GOOD + blocks) == [
        "config.toml, blocks: 1001 members are too many; at most 1000 are allowed"
    ]


def test_what_a_terminal_would_obey_is_shown_as_an_escape(tmp_path: Path) -> None:
    nasty = '"a\\u001b[2J\\nerror: forged" = 1\n'
    (sentence, *_) = refused(tmp_path, nasty + GOOD)
    assert sentence.startswith("config.toml, a\\x1b[2J\\nerror: forged: unknown setting")
