"""Charts and documents."""
