"""From a surface with vines in it to ground and rows: what a survey computes. Opens no files."""
