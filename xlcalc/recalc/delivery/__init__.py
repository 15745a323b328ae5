"""What a recalculated workbook needs so that its results last on a PC without our functions."""
