"""What a plan leaves on disk: schedule, GIS layers, map and run record. The only room that writes files."""
