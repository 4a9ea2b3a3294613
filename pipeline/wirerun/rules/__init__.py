"""What several chapters must agree on, once each: clip positions, order of work, prices and minutes, wire values."""
