"""Sound files in and out."""
