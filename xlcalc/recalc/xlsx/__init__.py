"""The file: its package, sheets and cells as bytes, read and patched."""
