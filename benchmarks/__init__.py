"""Accuracy, speed and memory, each as a ratio to something measured in the same run."""
