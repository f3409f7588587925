"""A piano that can be heard and whose truth is known."""
