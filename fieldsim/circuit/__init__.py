"""Wire resistance, loads and the circuit they form."""
