"""Machines as YAML files, read and written, every error with its place."""
