"""The commands, one short file each."""
