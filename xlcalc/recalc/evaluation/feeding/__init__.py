"""What the engine is fed: sheets, ranges and arrays kept for all formulas."""
