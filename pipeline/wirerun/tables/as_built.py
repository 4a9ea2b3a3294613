"""Tables of posts as built, against those that were planned."""

from typing import Final

from wirerun.tables.column import Column, Table, degrees, metres, newtons, text
from wirerun.tables.layout import ROW_ID
from wirerun.tables.wire import CLIP_KINDS

#: What may have become of a planned post, or what a surveyed one is.
BUILT_MARKS: Final = ("stands", "moved", "missing", "extra", "again")
#: What the real ground makes of a planned clip.
CLIP_CHANGES: Final = ("needs two-way", "two-way not needed")

BUILT_POSTS: Final = Table(
    "built_posts",
    "One line per post that was planned or surveyed.",
    ("post_id",),
    (
        text(
            "post_id",
            "Planned post, such as B01-R012-P007; X and a number for a surveyed one that none was planned for.",
        ),
        text("row_id", "Row it stands in; of one not planned the nearest row within half a spacing.", empty=True),
        text(
            "mark",
            "Stands within 10 cm of where it was planned; moved; missing: none was surveyed within reach; extra: none "
            "was planned within reach; again: measured twice, less than 30 cm along its row from one that counts.",
            choices=BUILT_MARKS,
        ),
        metres("along_m", "How far it stands ahead along the row of where it was planned.", empty=True),
        metres("across_m", "How far it stands to the right of it.", empty=True),
        metres("height_m", "Surveyed less planned ground height, the block's median difference taken off.", empty=True),
        degrees("lon", "Longitude, WGS 84: as surveyed; as planned where it is missing."),
        degrees("lat", "Latitude likewise."),
        degrees("planned_lon", "Longitude as planned; as surveyed where it was not."),
        degrees("planned_lat", "Latitude likewise."),
        text("surveyed_as", "What the survey calls it.", empty=True),
    ),
)

BUILT_SPANS: Final = Table(
    "built_spans",
    "One line per span between surveyed posts that is more than 10 cm longer than posts.max_span_m.",
    ("row_id", "from_post"),
    (
        ROW_ID,
        text("from_post", "Post at its start."),
        text("to_post", "Post at its end."),
        metres("chord_m", "Distance between the two, along the slope."),
        metres("over_m", "By how much that is over the limit."),
    ),
)

BUILT_CLIPS: Final = Table(
    "built_clips",
    "One line per post and wire whose clip the real places and heights change.",
    ("post_id", "wire_id"),
    (
        text("post_id", "Post as planned."),
        ROW_ID,
        text("wire_id", "Wire, as named in the config."),
        text("change", "What it comes to.", choices=CLIP_CHANGES),
        text("planned", "Clip as planned.", choices=CLIP_KINDS),
        newtons("planned_load_n", "Least load over all states as planned: negative pulls up."),
        newtons("load_n", "The same with the posts as they stand."),
        Column("need_probability", "number", "", "Probability that a two-way clip is needed as they stand.", 4),
    ),
)
