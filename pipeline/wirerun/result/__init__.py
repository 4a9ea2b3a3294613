"""The result as tables: data frames with the columns of the one dictionary, made once, from the chapters' values."""
