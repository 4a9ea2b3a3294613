"""What is used where: hooks, tie-offs and tools, by row and by task."""

import pandas as pd

from tests.unit.stages.takeoff.test_materials import catalogue, changed, end, made, plan, rate


def test_an_adjuster_on_a_wire_that_is_not_strung_takes_no_tie_off() -> None:
    """One more on the fixed wire of row 2, which has no length: three in all, and as many ends as before."""
    more = plan().adjusters.iloc[:1].assign(wire_id="fruiting")
    materials, _, _ = made(changed(plan(), adjusters=pd.concat([plan().adjusters, more], ignore_index=True)))
    assert materials.loc["strainer", "quantity"] == 3
    assert materials.loc["two clamps", "quantity"] == 16


def test_ends_that_move_hang_in_hooks() -> None:
    """Two lines of row 1, a hook at either end."""
    wires = plan().wires.assign(ends_move=["no", "yes", "no", "no"])
    ends = (*catalogue().wire_ends, end("open hook", "end hook", 1, 0.2, "cordless drill"))
    materials, _, _ = made(changed(plan(), wires=wires), catalogue(wire_ends=ends))
    assert materials.loc["open hook", "quantity"] == 4
    assert materials.loc["open hook", "used_for"] == "4 for end hook; wires lower"
    assert materials.loc["cordless drill", "used_for"] == "open hook"


def test_tools_go_where_their_task_is() -> None:
    """Pegs where posts are set, a reel where wire is run out; what is for every year's work is not for building."""
    rates = (
        rate("set out and peg", "post", "pegs"),
        rate("run out", "100 m of wire", "reel"),
        rate("lift", "100 m of wire", "stick"),
    )
    planned = changed(plan(), posts=plan().posts[:3], wires=plan().wires[2:])
    materials, zones, _ = made(planned, catalogue(rates=rates))
    where = zones[zones["kind"] == "tool"].groupby("item")["zone_id"].agg(list).to_dict()
    assert where["pegs"] == ["Z01"]
    assert where["reel"] == ["Z02"]
    assert "stick" not in materials.index
