"""What a workshop keeps: instruments, readings, and the catalogue of quantities that give a reading its meaning."""
