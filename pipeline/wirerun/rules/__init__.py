"""What several chapters must agree on, each rule in one place; below the stages, above optimise."""
