"""Pages beside the plan's map: one file each, which opens from disk and asks nobody for anything."""

from wirerun.write.pages.comparison_page import write_comparison_page

__all__ = ["write_comparison_page"]
