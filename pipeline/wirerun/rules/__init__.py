"""What several chapters must agree on, once each: clip positions, what a post asks for, which wire is meant."""
