"""Where a wire pulls up, which clip each post needs, and what fixes it."""
