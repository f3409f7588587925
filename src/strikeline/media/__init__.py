"""Sound in and out of files."""
