"""The config as written, as checked and as described are one and the same."""

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo
from wirerun.errors import InputError, TargetError
from wirerun.read.config import GROUND, load_config, load_survey_config, planned_with
from wirerun.settings import AdjusterKind, Config, WireSettings
from wirerun.write.blank_config import blank_config, config_schema, write_blank_config

CONFIGS = sorted((Path(__file__).parents[3] / "configs").glob("*.toml"))


def every_field(section: type[BaseModel]) -> Iterator[tuple[str, FieldInfo]]:
    for name, field in section.model_fields.items():
        kind = field.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            yield from every_field(kind)
        else:
            yield f"{section.__name__}.{name}", field


SETTINGS = [*every_field(Config), *every_field(WireSettings), *every_field(AdjusterKind)]


FILLED_IN = {"boundary": "block.geojson", "raster": "ground.tif", "bearing_deg": 41.5, "spacing_m": 2.4}


def filled_in(*names: str) -> str:
    """Return the blank config with some settings filled in as a person would."""
    text = blank_config()
    for name in names:
        assert text.count(f"\n# {name} =\n") == 1
        text = text.replace(f"\n# {name} =\n", f"\n{name} = {json.dumps(FILLED_IN[name])}\n")
    return text


def asked_for(tmp_path: Path, text: str) -> list[str]:
    (tmp_path / "blank.toml").write_text(text)
    with pytest.raises(InputError) as caught:
        load_config(tmp_path / "blank.toml")
    return str(caught.value).replace(f"{tmp_path}/blank.toml, ", "").splitlines()


def test_the_blank_config_holds_every_default() -> None:
    """Filled in and read back it is the plainest config there can be."""
    blank = Config.model_validate(tomllib.loads(filled_in(*FILLED_IN)))
    plain = Config.model_validate(
        {
            "name": "my-block",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 41.5, "spacing_m": 2.4},
        }
    )
    assert blank.model_dump() == plain.model_dump()


def test_the_blank_config_asks_for_what_has_no_default(tmp_path: Path) -> None:
    bearing = 'rows.bearing_deg: missing; layout = "parallel" needs it'
    spacing = "rows.spacing_m: missing; this setting is required"
    assert asked_for(tmp_path, blank_config()) == [
        "block.boundary: missing; this setting is required",
        "elevation.raster: missing; this setting is required",
        spacing,
        bearing,
    ]
    # With only the files given, the rows are asked for: nobody wants them due north by chance.
    assert asked_for(tmp_path, filled_in("boundary", "raster")) == [spacing, bearing]
    # The # taken away, but nothing given.
    text = filled_in("boundary", "raster").replace("\n# bearing_deg =\n", "\nbearing_deg =\n")
    line = text.splitlines().index("bearing_deg =") + 1
    (sentence,) = asked_for(tmp_path, text)
    assert sentence == f"line {line}, column 14: the setting has no value; give one, or put a # before the line"


def test_the_blank_config_says_what_to_fill_in_and_what_a_choice_allows() -> None:
    lines = blank_config().splitlines()
    to_fill_in = [lines[at + 1] for at, line in enumerate(lines) if line.endswith("FILL IN.")]
    assert to_fill_in == [f"# {name} =" for name in FILLED_IN]
    text = " ".join(" ".join(blank_config().split()).split(" # "))
    for words in (
        '"parallel", "follow", "given". layout =',
        '"row_start", "baseline". align =',
        '"certain", "likely", "possible". plan_for =',
        '"fixed", "foliage". kind =',
        '"staple", "clip". held_by =',
        '"hand", "air", "any". driven =',
        '"start", "far". end =',
        '"m", "ft", "us-ft", "ind-ft". height_unit =',
    ):
        assert f"Allowed: {words}" in text


def test_nothing_of_ours_reads_as_a_value_called_choice() -> None:
    for text in (blank_config(), json.dumps(config_schema())):
        whole = " ".join(text.replace("\n# ", " ").split())
        # Every choice has its reason beside it.
        assert not re.search(r"Default: wirerun's own choice(?! \()", whole)
        assert "Default: wirerun's own choice (drone survey with RTK)." in whole
        assert not re.search(r"Default: choice|\(choice\)", whole)


def test_the_samples_of_blocks_in_the_blank_config_are_right() -> None:
    """Taken out of their comments they make a config of four blocks."""
    head, samples = filled_in(*FILLED_IN).split("# [blocks.B02.rows]")
    lines = f"# [blocks.B02.rows]{samples}".splitlines()
    own = "\n".join(line.removeprefix("# ") for line in lines if line.startswith("# [") or " = " in line)
    config = Config.model_validate(tomllib.loads(head + own))
    assert config.for_block("B02").rows.bearing_deg == 71.0
    assert [wire.id for wire in config.for_block("B03").wires] == ["cordon"]
    assert [(wire.id, wire.height_m) for wire in config.for_block("B04").wires] == [("lower", 1.1), ("upper", 1.45)]
    assert config.for_block("B05") is config


def test_the_blank_config_names_every_setting() -> None:
    text = blank_config()
    assert "[blocks.B02.rows]" in text
    for name in (name.split(".")[1] for name, _ in SETTINGS if name != "Config.blocks"):
        assert f"{name} =" in text or f"[[{name}]]" in text or f".{name}]]" in text or f"# {name}." in text


@pytest.mark.parametrize(("name", "field"), SETTINGS, ids=[name for name, _ in SETTINGS])
def test_every_default_has_an_origin(name: str, field: FieldInfo) -> None:
    assert field.description, name
    if not field.is_required() and name != "BlockSettings.layer":
        assert "Default:" in field.description, name


@pytest.mark.parametrize("config", CONFIGS, ids=lambda path: path.stem)
def test_ready_configs_fit_the_schema_and_the_settings(config: Path) -> None:
    """The schema is checked by a second library, jsonschema, as draft-07."""
    jsonschema.Draft7Validator.check_schema(config_schema())
    data = tomllib.loads(config.read_text())
    if "survey" in data:  # heights and rows are what it is to find
        whole, written = load_survey_config(config)
        data = planned_with(written, {"raster": GROUND}, {"spacing_m": 2.2})
    else:
        whole = load_config(config)
    if "base" not in data:
        jsonschema.Draft7Validator(config_schema()).validate(data)
    assert whole.name.startswith("encosta-nova")


def test_the_schema_refuses_what_the_settings_refuse() -> None:
    data = tomllib.loads(CONFIGS[0].read_text())
    data["rows"]["bearng_deg"] = 62.0
    data["posts"]["max_span_m"] = 600.0
    errors = list(jsonschema.Draft7Validator(config_schema()).iter_errors(data))
    assert {tuple(error.path) for error in errors} == {("rows",), ("posts", "max_span_m")}


def test_the_schema_knows_both_ways_to_give_one_block_other_wires() -> None:
    data = tomllib.loads(CONFIGS[0].read_text())
    wire: dict[str, Any] = {"id": "cordon", "kind": "fixed", "height_m": 0.8}
    checks = jsonschema.Draft7Validator(config_schema())
    right: tuple[Any, ...] = ([wire], {"lower": {"height_m": 1.1}})
    for wires in right:
        checks.validate(data | {"blocks": {"B02": {"wires": wires}}})
    wrong: tuple[Any, ...] = ([wire | {"hight_m": 0.8}], [{"id": "cordon"}], 5, {"lower": 1.1})
    for wires in wrong:
        assert list(checks.iter_errors(data | {"blocks": {"B02": {"wires": wires}}}))


def test_a_config_is_never_overwritten(tmp_path: Path) -> None:
    file = tmp_path / "new.toml"
    write_blank_config(file)
    before = file.read_bytes()
    with pytest.raises(TargetError, match="is there already"):
        write_blank_config(file)
    assert file.read_bytes() == before
    with pytest.raises(TargetError, match="cannot be written"):
        write_blank_config(tmp_path / "nowhere" / "new.toml")
