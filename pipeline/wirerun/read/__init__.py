"""The room where files are read: config, boundaries, heights. Everything in it gathers faults instead of stopping."""
