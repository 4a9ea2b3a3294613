"""The config: every setting, its unit, its limits, its default and where the default comes from.

Units stand in the names. Each field says in its description what it is and, after "Default:", the origin of its
default: a source, *common practice* (a habit of the trade) or *choice* (ours).
"""

from pathlib import Path
from typing import Annotated, Any, Final, Self

from pydantic import BeforeValidator, Field, PrivateAttr, model_validator

from wirerun.settings.blocks import BlockOverride, laid_over
from wirerun.settings.catalogue import Catalogue
from wirerun.settings.ground import BlockSettings, ElevationSettings, OutputSettings
from wirerun.settings.layout import (
    CERTAINTY,
    ClipSettings,
    FittingSettings,
    PostSettings,
    RowSettings,
    UndulationSettings,
)
from wirerun.settings.map import MapSettings
from wirerun.settings.measured import MeasuredSettings
from wirerun.settings.phases import PhaseSettings
from wirerun.settings.repair import RepairSettings
from wirerun.settings.rules import broken_rules
from wirerun.settings.section import LocalPath, Section, choices
from wirerun.settings.service import MachineLimit, MachineSettings, ServiceSettings
from wirerun.settings.standing import StandingSettings, StockSettings
from wirerun.settings.study import StudySettings
from wirerun.settings.supply import CatalogueSettings, CoilSettings, FixingSettings, WorkSettings
from wirerun.settings.survey import SurveySettings
from wirerun.settings.wire import (
    MOST_WIRES,
    AdjusterKind,
    AdjusterSettings,
    CheckSettings,
    StateSettings,
    WireSettings,
    default_wires,
)

__all__ = [
    "CERTAINTY",
    "AdjusterKind",
    "AdjusterSettings",
    "BlockOverride",
    "BlockSettings",
    "Catalogue",
    "CatalogueSettings",
    "CheckSettings",
    "ClipSettings",
    "CoilSettings",
    "Config",
    "ElevationSettings",
    "FittingSettings",
    "FixingSettings",
    "MachineLimit",
    "MachineSettings",
    "MapSettings",
    "MeasuredSettings",
    "OutputSettings",
    "PhaseSettings",
    "PostSettings",
    "RepairSettings",
    "RowSettings",
    "ServiceSettings",
    "StandingSettings",
    "StateSettings",
    "StockSettings",
    "StudySettings",
    "SurveySettings",
    "UndulationSettings",
    "WireSettings",
    "WorkSettings",
    "broken_rules",
    "choices",
    "laid_over",
]

# Choice: more blocks of their own kind than one crew ever sees.
_MOST_BLOCKS: Final = 1000


def _few(wires: object) -> object:
    """Refuse more wires than any trellis has before each of them is looked at."""
    if isinstance(wires, list | tuple) and len(wires) > MOST_WIRES:
        msg = f"{len(wires)} wires are too many; at most {MOST_WIRES} are allowed"
        raise ValueError(msg)
    return wires


class Config(Section):
    """Everything a plan is made from."""

    name: str = Field(
        pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$", description="Names the output folder: letters, digits, - and _."
    )
    base: LocalPath | None = Field(
        None,
        description="Config in the same folder that this one builds on, setting by setting. Default: none.",
    )
    block: BlockSettings
    elevation: ElevationSettings
    rows: RowSettings
    posts: PostSettings = PostSettings()
    undulation: UndulationSettings = UndulationSettings()
    states: StateSettings = StateSettings()
    wires: Annotated[tuple[WireSettings, ...], BeforeValidator(_few)] = Field(
        default_factory=default_wires,
        min_length=1,
        max_length=MOST_WIRES,
        strict=False,
        description="The wires, in any order. Default: two foliage pairs at 1.2 m and 1.45 m, clip positions both "
        "(common practice).",
    )
    clips: ClipSettings = ClipSettings()
    adjusters: AdjusterSettings = AdjusterSettings()
    check: CheckSettings = CheckSettings()
    fitting: FittingSettings = FittingSettings()
    catalogue: CatalogueSettings = CatalogueSettings()
    fixings: FixingSettings = FixingSettings()
    coils: CoilSettings = CoilSettings()
    work: WorkSettings = WorkSettings()
    standing: StandingSettings = StandingSettings()
    stock: StockSettings = StockSettings()
    service: ServiceSettings = ServiceSettings()
    machines: MachineSettings = MachineSettings()
    repair: RepairSettings = RepairSettings()
    measured: MeasuredSettings = MeasuredSettings()
    phases: PhaseSettings = PhaseSettings()
    map: MapSettings = MapSettings()
    output: OutputSettings = OutputSettings()
    study: StudySettings = StudySettings()
    survey: SurveySettings = SurveySettings()
    blocks: dict[str, BlockOverride] = Field(
        default_factory=dict,
        max_length=_MOST_BLOCKS,
        description="Settings of single blocks: any key of rows, posts, standing and wires, as in [blocks.B02.rows] "
        "bearing_deg = 71; or wires of its own, as in [[blocks.B02.wires]]. Default: none.",
    )

    _file: Path | None = PrivateAttr(default=None)
    _folder: Path = PrivateAttr(default_factory=Path)

    @model_validator(mode="after")
    def _rules_hold(self) -> Self:
        broken = broken_rules(self.model_dump())
        if broken:
            raise ValueError("; ".join(f"{place}: {sentence}" for place, sentence in broken))
        return self

    def model_post_init(self, context: Any, /) -> None:  # noqa: ANN401 - pydantic's own signature
        """Remember the file, if it came from one, and the folder that relative paths start from."""
        super().model_post_init(context)
        if context:
            self._file = Path(context["file"]) if "file" in context else None
            self._folder = Path(context["folder"])

    @property
    def file(self) -> str:
        """Return the config file as given, for sentences about it: "config" where there is none."""
        return str(self._file or "config")

    @property
    def folder(self) -> Path:
        """Return the folder that relative paths start from: the config file's, else the current one."""
        return self._folder

    @property
    def written(self) -> dict[str, Any]:
        """Return what is set for all blocks, and the wires even where they are the default: a block may change one."""
        wires = [wire.model_dump() for wire in self.wires]
        return self.model_dump(exclude={"blocks"}, exclude_unset=True) | {"wires": wires}

    def for_block(self, block_id: str) -> "Config":
        """Return the config as one block has it."""
        own = self.blocks.get(block_id)
        if own is None:
            return self
        written = laid_over(self.written, own.model_dump())
        return Config.model_validate(written, context={"file": self.file, "folder": self.folder})

    def only_block(self, block_id: str) -> "Config":
        """Return the config without what it says of other blocks: of thousands, each would carry all."""
        own = {block_id: self.blocks[block_id]} if block_id in self.blocks else {}
        return self.model_copy(update={"blocks": own})

    def path(self, given: str) -> Path:
        """Return where a path of the config points to."""
        return self._folder / given
