"""Where rows and posts stand, and the ground under them."""
