"""What several chapters must agree on, said once: where clips stand on a post, in which order one works."""
