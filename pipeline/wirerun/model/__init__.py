"""What passes between the chapters: arrays with named axes, checked once, when they are made.

Axes
----
======  ==================================================================================================
axis    order
======  ==================================================================================================
row     rows of one block, by number
post    posts of one block, along their rows, one row after another; `row` says which row each stands in
span    spans of one block, along their rows; the one from post i to post i + 1 is found by `Posts.near`
wire    wires of the config, as written
state   `State`, in its order
======  ==================================================================================================

A value says in its docstring which axes each of its arrays has: ``[wire, post, state]``. Nothing is found by the
position of a line in another table.
"""
