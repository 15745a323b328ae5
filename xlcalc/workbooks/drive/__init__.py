"""The template drive_study: one supply, its drives, the PCC."""
