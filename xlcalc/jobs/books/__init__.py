"""Many workbooks recalculated at once."""
