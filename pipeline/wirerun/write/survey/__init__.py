"""Writers of a survey: rasters, found rows, what it says of itself, the plan that goes on, and a page to review it."""
