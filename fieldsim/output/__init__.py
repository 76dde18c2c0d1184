"""Tables, files and figures."""
