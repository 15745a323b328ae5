"""A second program computes the same workbook, and every cell that differs is found."""
