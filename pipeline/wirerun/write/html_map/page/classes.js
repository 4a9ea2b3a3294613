/* The classes of posts and rows, in the order of classes.py: a post's or row's class is a number in these lists. */
export const POST_CLASSES = ["plain", "look", "two-way", "unknown", "end"];
export const ROW_CLASSES = ["fixed", "drops", "uncomputed", "adjuster", "beyond"];
