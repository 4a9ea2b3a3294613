"""Pages beside the plan's map: one file each, which opens from disk and asks nobody for anything."""

from wirerun.write.pages.as_built_page import write_as_built_page
from wirerun.write.pages.comparison_page import write_comparison_page
from wirerun.write.pages.study_page import write_study_page

__all__ = ["write_as_built_page", "write_comparison_page", "write_study_page"]
