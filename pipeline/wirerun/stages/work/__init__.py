"""Who does it: hours, work zones, tasks in order."""
