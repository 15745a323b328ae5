"""Every input field once: its name, kind, range, default, help, and the attribute that it fills."""
