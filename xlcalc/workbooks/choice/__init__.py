"""The template choice_study, and the workbook of a choice."""
