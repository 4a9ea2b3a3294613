"""What a study measures of a case, and what that makes of it."""
