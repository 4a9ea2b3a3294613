"""What finished plans have in common, from their tables."""
