"""Strings, stretch and bounds: pure functions over arrays, numbers in, numbers out."""
