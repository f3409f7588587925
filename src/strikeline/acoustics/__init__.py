"""Samples in, measures out. No files, no database, no clock."""
