"""A choice from files: sites, schedule, options and terms become one problem."""
