"""Names and places that the workbooks of the templates and their readers agree on."""
