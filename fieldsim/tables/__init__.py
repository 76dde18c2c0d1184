"""Results as CSV, HDF5 and JSON."""
