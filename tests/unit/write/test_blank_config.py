"""The config as written, as checked and as described are one and the same."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import jsonschema
import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo
from wirerun.errors import TargetError
from wirerun.read.config import load_config
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


def test_the_blank_config_holds_every_default() -> None:
    """Read back it is the plainest config there can be; its examples stand where a person must fill in."""
    blank = Config.model_validate(tomllib.loads(blank_config()))
    plain = Config.model_validate(
        {
            "name": "my-block",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
        }
    )
    assert blank.model_dump() == plain.model_dump()


def test_the_blank_config_names_every_setting() -> None:
    text = blank_config()
    assert "[blocks.B02.rows]" in text
    for name in (name.split(".")[1] for name, _ in SETTINGS if name != "Config.blocks"):
        assert f"{name} =" in text or f"[[{name}]]" in text or f".{name}]]" in text


@pytest.mark.parametrize(("name", "field"), SETTINGS, ids=[name for name, _ in SETTINGS])
def test_every_default_has_an_origin(name: str, field: FieldInfo) -> None:
    assert field.description, name
    if not field.is_required() and name != "BlockSettings.layer":
        assert "Default:" in field.description, name


@pytest.mark.parametrize("config", CONFIGS, ids=lambda path: path.stem)
def test_ready_configs_fit_the_schema_and_the_settings(config: Path) -> None:
    """The schema is checked by a second library, jsonschema, as draft-07."""
    jsonschema.Draft7Validator.check_schema(config_schema())
    whole = load_config(config)
    data = tomllib.loads(config.read_text())
    if "base" not in data:
        jsonschema.Draft7Validator(config_schema()).validate(data)
    assert whole.name.startswith("encosta-nova")


def test_the_schema_refuses_what_the_settings_refuse() -> None:
    data = tomllib.loads(CONFIGS[0].read_text())
    data["rows"]["bearng_deg"] = 62.0
    data["posts"]["max_span_m"] = 600.0
    errors = list(jsonschema.Draft7Validator(config_schema()).iter_errors(data))
    assert {tuple(error.path) for error in errors} == {("rows",), ("posts", "max_span_m")}


def test_a_config_is_never_overwritten(tmp_path: Path) -> None:
    file = tmp_path / "new.toml"
    write_blank_config(file)
    before = file.read_bytes()
    with pytest.raises(TargetError, match="is there already"):
        write_blank_config(file)
    assert file.read_bytes() == before
    with pytest.raises(TargetError, match="cannot be written"):
        write_blank_config(tmp_path / "nowhere" / "new.toml")
