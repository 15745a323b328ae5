"""New values and sheets put into the bytes of a workbook; all else stays as it was."""
