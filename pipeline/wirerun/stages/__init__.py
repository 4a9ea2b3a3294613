"""The stages of a plan, one idea a file: tables and their settings in, tables and findings out.

Stages do not know each other; `wirerun.run` holds the order.
"""
