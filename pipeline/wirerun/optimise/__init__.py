"""Choosing the best of many: wire cut from coils, posts placed on vines, rows parted evenly. numpy and scipy only."""
