"""Lists of drives as people write them: tables, headings, units, rows."""
